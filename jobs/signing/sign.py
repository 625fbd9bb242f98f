"""Keeping a signature, and what was signed so far."""

import hashlib
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.auth.models import User

from jobs import journal
from jobs.happened import when
from jobs.models import Job, Signature, SignedBy, Visit
from jobs.opening import authorize_locked
from jobs.refusals import Refusal, Unusable
from jobs.signing.drawing import is_written
from jobs.signing.rules import ROLES, WHAT, SigningRule, signing_rules
from jobs.use_case import use_case
from jobs.visits import locked_job

# With this one the work itself is allowed.
THE_WORK = "emergency_mitigation"


class MayNotSign(Refusal):
    """Who signs may not sign for this in this state; it is said who may."""

    code = "may_not_sign"
    status = 422


class NotSigned(Refusal):
    """Neither a drawing nor a typed name stands on the form."""

    code = "not_signed"
    status = 422


@dataclass(frozen=True)
class SignatureKept:
    """A signature on record; `caution` where no rule of the state is kept."""

    signature_id: int
    job_id: int
    form: str
    form_edition: str
    caution: str


@dataclass(frozen=True)
class SignatureLine:
    """A signature as it is listed. `drawing` is SVG path data in a box of 600 by 200, empty where a name was typed."""

    signature_id: int
    what: str
    what_words: str
    role: str
    role_words: str
    name: str
    drawing: str
    how: str
    state: str
    form: str
    form_edition: str
    rule_source: str
    rule_confidence: str
    limits: str
    signed_at: datetime
    recorded_at: datetime
    taken_by: str


@use_case("keep_signature", private=("name", "drawing"))
def keep_signature(
    *,
    key: UUID,
    actor: User,
    now: datetime,
    job_id: int,
    what: str,
    role: str,
    name: str,
    drawing: str = "",
    limits: str = "",
    visit_id: int | None = None,
    happened_at: datetime | None = None,
) -> SignatureKept:
    """
    Put a signature on the job's record, drawn or with the signer's name typed by themselves.

    `what` and `role` are words of `jobs.signing.rules`; `limits` is what was not allowed. The first signature for the
    work also makes the job authorized.

    :raises MayNotSign: if the state's rule names others, and who they are.
    :raises NotSigned: without a name, or with a drawing that is only a slip.
    """
    job, at = locked_job(job_id), when(happened_at, now)
    rule = _rule_for(job, what, at)
    if role not in ROLES:
        raise Unusable(f"Say who signs: {', '.join(ROLES.values())}.", where="role")
    if not rule.allows(role):
        raise MayNotSign(
            f"In {job.state} the {ROLES[role]} does not sign for {rule.words}. Ask the {rule.who} to sign. "
            f"(Rule on file: {rule.source}; local law decides.)",
            where="role",
            may_sign=list(rule.roles),
        )
    if not name.strip():
        raise NotSigned("Write the name of the person who signs.", where="name")
    if drawing and not _is_hand(drawing):
        raise NotSigned("This is hardly a signature. Clear it and sign again, or leave it and type.", where="drawing")
    if visit_id is not None and not Visit.objects.filter(pk=visit_id, job=job).exists():
        raise Unusable("This visit belongs to another job. Open the right stop and sign there.", where="visit_id")
    row = _write(key, actor, now, at, job, rule, role, name.strip()[:80], drawing, limits.strip()[:300], visit_id)
    if what == THE_WORK and job.authorized_at is None:
        authorize_locked(job, at=at, limits=row.limits, actor=actor, now=now)
    caution = "" if rule.roles else f"No rule of {job.state} is on file for this: ask the office who has to sign."
    return SignatureKept(row.pk, job.pk, row.form, row.form_edition, caution)


def rules_for(job: Job, *, at: datetime) -> tuple[SigningRule, ...]:
    """Who may sign what at this job, by its state and its local day (1 query)."""
    return signing_rules(state=job.state, on=at.astimezone(ZoneInfo(job.time_zone)).date())


def signatures_of(job_id: int) -> tuple[SignatureLine, ...]:
    """The job's signatures in order of time (1 query)."""
    rows = Signature.objects.filter(job_id=job_id).select_related("by", "taken_by").order_by("signed_at", "pk")
    return tuple(_line(row) for row in rows)


def _rule_for(job: Job, what: str, at: datetime) -> SigningRule:
    found = next((rule for rule in rules_for(job, at=at) if rule.what == what), None)
    if found is None:
        raise Unusable(f"Say what is signed for: {', '.join(WHAT)}.", where="what")
    return found


def _is_hand(drawing: str) -> bool:
    try:
        return is_written(drawing)
    except ValueError as error:
        raise NotSigned("This drawing cannot be read. Clear it and sign again.", where="drawing") from error


def _write(
    key: UUID,
    actor: User,
    now: datetime,
    at: datetime,
    job: Job,
    rule: SigningRule,
    role: str,
    name: str,
    drawing: str,
    limits: str,
    visit_id: int | None,
) -> Signature:
    row = Signature.objects.create(
        key=key,
        job=job,
        visit_id=visit_id,
        what=rule.what,
        role=role,
        state=job.state,
        form=rule.form,
        form_edition=rule.form_edition,
        rule_source=rule.source,
        rule_confidence=rule.confidence,
        limits=limits,
        how=Signature.How.DRAWN if drawing else Signature.How.TYPED,
        digest=hashlib.sha256(f"{name}\n{drawing}".encode()).hexdigest(),
        signed_at=at,
        recorded_at=now,
        taken_by=actor,
    )
    SignedBy.objects.create(signature=row, name=name, drawing=drawing)
    journal.note(
        kind="signature_kept",
        actor=actor,
        now=now,
        job=job,
        happened_at=at,
        data={"signature": row.pk, "what": rule.what, "role": role, "form": rule.form},
    )
    return row


def _line(row: Signature) -> SignatureLine:
    by = getattr(row, "by", None)
    return SignatureLine(
        row.pk,
        row.what,
        WHAT.get(row.what, row.what.replace("_", " ")),
        row.role,
        ROLES.get(row.role, row.role.replace("_", " ")),
        "name erased" if by is None else by.name,
        "" if by is None else by.drawing,
        row.get_how_display(),
        row.state,
        row.form,
        row.form_edition,
        row.rule_source,
        row.rule_confidence,
        row.limits,
        row.signed_at,
        row.recorded_at,
        row.taken_by.get_full_name() or row.taken_by.get_username(),
    )
