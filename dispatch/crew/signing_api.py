"""The API of signing at a stop of one's own route."""

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from dispatch.crew.api import own_visit
from jobs import access
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.models import Job
from jobs.people import signed_in
from jobs.signing.rules import SigningRule
from jobs.signing.sign import SignatureKept, SignatureLine, keep_signature, rules_for, signatures_of
from jobs.signing_api import SignatureIn

FIELD = frozenset({access.CREW_LEAD, access.MANAGER})


class StopSigningView(UseCaseView):
    """Who may sign what at the stop, with the form and where the rule stands."""

    roles = FIELD

    @reads(SigningRule, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        visit = own_visit(signed_in(request.user), visit_id)
        return self.answer(rules_for(Job.objects.get(pk=visit.job_id), at=timezone.now()))


class StopSignaturesView(UseCaseView):
    """What is signed at the stop's job; keeping a signature."""

    verbs = {"POST": "keep_signature"}
    roles = FIELD
    writers = FIELD

    @reads(SignatureLine, many=True)
    def get(self, request: Request, visit_id: int) -> Response:
        return self.answer(signatures_of(own_visit(signed_in(request.user), visit_id).job_id))

    @writes(SignatureIn, SignatureKept, status=201)
    def post(self, request: Request, visit_id: int) -> Response:
        visit = own_visit(signed_in(request.user), visit_id)
        kept = keep_signature(
            job_id=visit.job_id, visit_id=visit_id, **self.common(request), **read(SignatureIn, request)
        )
        return self.answer(kept, status=201)
