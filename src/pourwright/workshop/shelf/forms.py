"""What can be done with a candle lot, one small form each."""

from __future__ import annotations

from django import forms

from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import WorkshopForm
from pourwright.workshop.stores.models import Origin, Place


class FinishForm(WorkshopForm):
    by = forms.CharField(label="Done by", max_length=80)
    minutes = forms.DecimalField(
        label="Minutes of work in all", min_value=0, max_digits=7, decimal_places=1, required=False
    )
    note = forms.CharField(label="Note", max_length=200, required=False)
    client_id = EntryId()

    def __init__(self, *arguments, workshop, finishing: Finishing, **keywords) -> None:
        super().__init__(*arguments, workshop=workshop, **keywords)
        self.fields["by"].initial = finishing.by or workshop.maker
        for name in Finishing.CHECKS:
            self.fields[name] = forms.BooleanField(
                label=str(Finishing._meta.get_field(name).verbose_name).capitalize(),
                required=False,
                initial=getattr(finishing, name),
            )
        self.order_fields([*Finishing.CHECKS, "by", "minutes", "note"])

    @property
    def ticks(self) -> dict[str, bool]:
        return {name: self.cleaned_data[name] for name in Finishing.CHECKS}

    @property
    def check_fields(self):
        return [self[name] for name in Finishing.CHECKS]

    @property
    def other_fields(self):
        return [self[name] for name in ("by", "minutes", "note")]


class TakeBackFinishingForm(WorkshopForm):
    reason = forms.CharField(label="What was wrong", max_length=200)


class AsideForm(WorkshopForm):
    qty = forms.IntegerField(label="How many", min_value=1)
    origin = forms.ChoiceField(
        label="As",
        choices=[
            (Origin.TESTER, "testers, to the test table"),
            (Origin.GIFT, "gifts, given away"),
            (Origin.SECONDS, "seconds, kept on the shelf"),
        ],
    )
    note = forms.CharField(label="For whom, or why", max_length=200, required=False)
    client_id = EntryId()


class AtPlaceForm(WorkshopForm):
    """A form that also asks where, when the lot stands in more than one place."""

    def __init__(self, *arguments, workshop, places: list[str], **keywords) -> None:
        super().__init__(*arguments, workshop=workshop, **keywords)
        self.fields["place"] = forms.ChoiceField(
            label="Where", choices=[(place, Place(place).label) for place in places]
        )
        if len(places) == 1:
            self.fields["place"].widget = forms.HiddenInput()
            self.fields["place"].initial = places[0]


class ScrapForm(AtPlaceForm):
    qty = forms.IntegerField(label="How many", min_value=1)
    reason = forms.CharField(label="What is wrong with them", max_length=300)
    client_id = EntryId()


class CountForm(AtPlaceForm):
    counted = forms.IntegerField(label="Counted there", min_value=0)
    reason = forms.CharField(label="Why it differs", max_length=300, required=False)
    client_id = EntryId()


class BurnForm(WorkshopForm):
    qty = forms.IntegerField(label="How many burnt", min_value=1)
    reason = forms.CharField(label="In which test", max_length=300, required=False)
    client_id = EntryId()


class LookForm(WorkshopForm):
    qty = forms.IntegerField(label="How many go back on the shelf", min_value=1)
    found = forms.CharField(
        label="What was found",
        max_length=250,
        help_text="Such as: unburnt, lid and label whole, glass sound.",
    )
    client_id = EntryId()


class UndoForm(WorkshopForm):
    entry = forms.TypedChoiceField(label="Which", coerce=int)
    reason = forms.CharField(label="What was wrong", max_length=300)

    def __init__(self, *arguments, workshop, entries, **keywords) -> None:
        super().__init__(*arguments, workshop=workshop, **keywords)
        self.fields["entry"].choices = entries
