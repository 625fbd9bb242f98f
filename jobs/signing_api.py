"""The API of signatures: what was signed at a job, who may sign what, keeping one."""

from typing import Any

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from jobs import access, selectors
from jobs.api_base import UseCaseView, read, reads, writes
from jobs.signing.drawing import MOST_LETTERS
from jobs.signing.rules import ROLES, WHAT
from jobs.signing.sign import SignatureKept, SignatureLine, keep_signature, signatures_of

DESK = frozenset({access.DISPATCHER, access.MANAGER})


class SignatureIn(serializers.Serializer[Any]):
    """A signature: drawn (SVG path data of M and L in a box of 600 by 200), or the signer's name typed alone."""

    what = serializers.ChoiceField(choices=list(WHAT.items()))
    role = serializers.ChoiceField(choices=list(ROLES.items()))
    name = serializers.CharField(max_length=80, allow_blank=True)
    drawing = serializers.CharField(required=False, allow_blank=True, max_length=MOST_LETTERS)
    limits = serializers.CharField(required=False, allow_blank=True, max_length=300)
    happened_at = serializers.DateTimeField(required=False)


class SignaturesView(UseCaseView):
    """A job's signatures; keeping one that the desk got."""

    verbs = {"POST": "keep_signature"}
    roles = DESK
    writers = DESK

    @reads(SignatureLine, many=True)
    def get(self, request: Request, job_id: int) -> Response:
        selectors.job_facts(job_id)
        return self.answer(signatures_of(job_id))

    @writes(SignatureIn, SignatureKept, status=201)
    def post(self, request: Request, job_id: int) -> Response:
        kept = keep_signature(job_id=job_id, **self.common(request), **read(SignatureIn, request))
        return self.answer(kept, status=201)
