"""Small things every page's door needs: now and today, an entry's own id, refusals as messages."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager

from django import forms
from django.contrib import messages
from django.http import HttpRequest
from django.utils import timezone

from pourwright.core.errors import BadInput


def now():
    """The clock is read here, at the door, and handed in."""
    return timezone.now()


def today():
    return timezone.localdate()


def new_id() -> str:
    """Return an id for an entry's form, so that sending it twice records it once."""
    return str(uuid.uuid4())


class EntryId(forms.UUIDField):
    """The hidden field that carries it."""

    def __init__(self, **keywords) -> None:
        super().__init__(
            widget=forms.HiddenInput, initial=new_id, required=False, label="", **keywords
        )


@contextmanager
def refusals(form: forms.BaseForm, field: str | None = None) -> Iterator[None]:
    """Put what the core or a service refuses beside the field, or at the head of the form."""
    try:
        yield
    except BadInput as problem:
        form.add_error(field, str(problem))


def say(request: HttpRequest, text: str) -> None:
    messages.success(request, text)


def warn(request: HttpRequest, text: str) -> None:
    messages.warning(request, text)
