"""What a form needs that is sent by the device's outbox, perhaps hours after it was filled in."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

ASKED, NEXT = "Outbox", "Outbox-Next"


class OutboxAnswers:
    """
    Middleware: the header `Outbox` names the user who filled the form in.

    Whoever else is signed in by now, or nobody, gets 401: a form is never sent in another person's name, and a sign-in
    page is never taken for an answer. A redirect becomes 204 with its address in `Outbox-Next`, because following it
    would use up what the next page has to say.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        who = request.headers.get(ASKED)
        if who is None:
            return self.get_response(request)
        if not request.user.is_authenticated or str(request.user.pk) != who:
            return HttpResponse("Sign in again to send this.", status=401, content_type="text/plain")
        response = self.get_response(request)
        if not 300 <= response.status_code < 400:
            return response
        answer = HttpResponse(status=204, headers={NEXT: response["Location"]})
        answer.cookies = response.cookies
        return answer
