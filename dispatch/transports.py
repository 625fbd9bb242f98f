"""
How a message leaves the house: the log, e-mail, or a text message through a gateway over HTTP.

Each way takes one message and comes back when it was accepted. It raises `Undeliverable` when trying again is useless,
and anything else when a later try may do. No way is used inside a transaction.
"""

import logging
import smtplib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import requests
from django.conf import settings
from django.core.mail import EmailMessage
from django.utils.module_loading import import_string

log = logging.getLogger(__name__)

CONSOLE, EMAIL, SMS = "console", "email", "sms"
# Answers that ask for patience instead of refusing: RFC 9110 408, RFC 8470 425, RFC 6585 429.
PATIENCE = frozenset({408, 425, 429})
SMTP_PERMANENT = 500


@dataclass(frozen=True)
class Message:
    """What is to be said, and where it may go; `key` is the same at every try, so that a gateway can tell a repeat."""

    key: UUID
    phone: str
    email: str
    text: str


class Undeliverable(Exception):
    """The message can never be delivered this way."""


class NotAccepted(Exception):
    """The message was not accepted now; a later try may do."""


def console(message: Message) -> None:
    """Write the message to the log: what an installation without a gateway does. The number is cut to its end."""
    log.info("message to ...%s: %s", message.phone[-4:], message.text)


def email(message: Message) -> None:
    """
    Send it by Django's mail backend, with the key in the message's id.

    :raises Undeliverable: if there is no address, or the mail server refuses for good (5yz, RFC 5321 4.2.1).
    """
    if not message.email:
        raise Undeliverable("There is no e-mail address.")
    said = EmailMessage(
        subject=message.text.partition(". ")[0][:70],
        body=message.text,
        from_email=settings.NOTICE_EMAIL_FROM or None,
        to=[message.email],
        headers={"Message-ID": f"<{message.key}@{settings.NOTICE_EMAIL_DOMAIN}>"},
    )
    try:
        said.send(fail_silently=False)
    except smtplib.SMTPRecipientsRefused as error:
        if all(code >= SMTP_PERMANENT for code, _ in error.recipients.values()):
            raise Undeliverable("The mail server does not take mail for this address.") from error
        raise
    except smtplib.SMTPResponseException as error:
        if error.smtp_code >= SMTP_PERMANENT:
            raise Undeliverable(f"The mail server answered {error.smtp_code}.") from error
        raise


def sms(message: Message) -> None:
    """
    Hand it to the gateway: one POST with the fields that the gateway wants, and the key as `Idempotency-Key`.

    :raises Undeliverable: if there is no number or no gateway, or the gateway refuses (4xx).
    :raises NotAccepted: if it cannot be reached, takes too long, is at fault (5xx) or asks for patience.
    """
    if not message.phone:
        raise Undeliverable("There is no number.")
    gateway: Mapping[str, Any] = settings.SMS_GATEWAY
    if not gateway["address"]:
        raise Undeliverable("No text message gateway is set up (EBBLINE_SMS_ADDRESS).")
    body = _body(gateway["fields"], message)
    as_json = gateway["format"] == "json"
    try:
        answer = requests.post(
            gateway["address"],
            headers={"Idempotency-Key": str(message.key), **_authorization(gateway)},
            timeout=gateway["timeout_s"],
            allow_redirects=False,
            json=body if as_json else None,
            data=None if as_json else body,
        )
    except requests.exceptions.InvalidURL as error:
        raise Undeliverable("The gateway's address cannot be used.") from error
    except requests.RequestException as error:
        raise NotAccepted(f"The gateway could not be reached: {type(error).__name__}.") from error
    if answer.ok and answer.status_code < 300:
        return
    refused = 300 <= answer.status_code < 500 and answer.status_code not in PATIENCE
    kind = Undeliverable if refused else NotAccepted
    raise kind(f"The gateway answered {answer.status_code}.")


WAYS: Mapping[str, Callable[[Message], None]] = {CONSOLE: console, EMAIL: email, SMS: sms}


def send(way: str, message: Message) -> None:
    """
    Send one message; `EBBLINE_NOTICE_TRANSPORT`, where it is set, takes every message whatever its way.

    :raises Undeliverable: if trying again is useless.
    """
    if settings.NOTICE_TRANSPORT:
        import_string(settings.NOTICE_TRANSPORT)(message)
        return
    WAYS[way](message)


def _body(fields: Mapping[str, str], message: Message) -> dict[str, str]:
    values = {"to": message.phone, "text": message.text, "key": str(message.key), "from": settings.SMS_GATEWAY["from"]}
    return {name: value.format_map(values) for name, value in fields.items()}


def _authorization(gateway: Mapping[str, Any]) -> dict[str, str]:
    return {"Authorization": f"{gateway['scheme']} {gateway['secret']}"} if gateway["secret"] else {}
