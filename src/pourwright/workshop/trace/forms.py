"""What is written about a recall."""

from __future__ import annotations

from django import forms

from pourwright.workshop.house.fields import WorkshopForm


class BeginForm(WorkshopForm):
    reason = forms.CharField(label="What was found, and by whom", max_length=300)
    by = forms.CharField(label="Who decides", max_length=80, required=False)

    def __init__(self, *arguments, workshop, **keywords) -> None:
        super().__init__(*arguments, workshop=workshop, **keywords)
        self.fields["by"].initial = workshop.maker


class EndForm(WorkshopForm):
    how = forms.CharField(label="How it ended", max_length=300)
