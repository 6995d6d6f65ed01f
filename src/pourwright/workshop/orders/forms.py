"""What is typed about orders and customers."""

from __future__ import annotations

import re

from django import forms
from django.core.exceptions import ValidationError

from pourwright.workshop.designs.models import Design
from pourwright.workshop.house.doors import EntryId
from pourwright.workshop.house.fields import MoneyField, WorkshopForm, WorkshopModelForm
from pourwright.workshop.orders.models import Channel, Customer, Order, OrderLine
from pourwright.workshop.orders.services import default_price_minor100
from pourwright.workshop.stores.models import Lot

NUMBERED = re.compile(r"^(?P<name>.*?)\s*#(?P<pk>\d{1,12})$")
MOST_LINES = 60


class CustomerForm(WorkshopModelForm):
    class Meta:
        model = Customer
        fields = ("name", "email", "phone", "address", "notes")
        widgets = {
            "address": forms.Textarea(attrs={"rows": 3}),
            "notes": forms.Textarea(attrs={"rows": 3}),
        }


class CustomerField(forms.CharField):
    """A customer by name; “Name #12” where two share one."""

    def to_python(self, value):
        text = super().to_python(value)
        if not text:
            return None
        if match := NUMBERED.match(text):
            found = Customer.objects.filter(pk=int(match["pk"]))
            if found:
                return found[0]
        found = list(Customer.objects.filter(name__iexact=text)[:3])
        if len(found) == 1:
            return found[0]
        if found:
            raise ValidationError(
                f"{len(found)} customers or more are called “{text}”; add the number, such as "
                + " or ".join(f"“{one.name} #{one.pk}”" for one in found)
                + "."
            )
        raise ValidationError(
            f"No customer is called “{text}”. Enter them under Customers first, or pick one "
            "that is offered while you type."
        )

    def prepare_value(self, value):
        if isinstance(value, Customer):
            shared = Customer.objects.filter(name__iexact=value.name)[:2].count() > 1
            return f"{value.name} #{value.pk}" if shared else value.name
        return value

    def run_validators(self, value) -> None:
        """Length validators speak of text; a customer has been found by now."""


class OrderForm(WorkshopForm):
    customer = CustomerField(
        required=False,
        help_text="Empty for a sale at a market stall only.",
        widget=forms.TextInput(attrs={"list": "customers", "autocomplete": "off"}),
    )
    channel = forms.ChoiceField(label="Channel", choices=Channel)
    on = forms.DateField(label="Ordered on")
    due = forms.DateField(label="Due", required=False)
    reference = forms.CharField(
        label="Their reference, or the market", max_length=80, required=False
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))

    @classmethod
    def initial_of(cls, order: Order) -> dict:
        return {name: getattr(order, name) for name in cls.base_fields}


class LineForm(WorkshopForm):
    line = forms.IntegerField(widget=forms.HiddenInput, required=False)
    design = forms.ModelChoiceField(label="Design", queryset=Design.objects.none(), empty_label="–")
    qty = forms.IntegerField(
        label="Number", min_value=1, widget=forms.NumberInput(attrs={"inputmode": "numeric"})
    )
    price_minor100 = MoneyField(label="Price each", required=False)
    seconds = forms.BooleanField(label="Seconds", required=False)

    def __init__(self, *arguments, workshop, designs, **keywords) -> None:
        super().__init__(*arguments, workshop=workshop, **keywords)
        self.fields["design"].queryset = designs
        for name in ("design", "qty", "price_minor100", "seconds"):
            self.fields[name].widget.attrs["aria-label"] = self.fields[name].label

    @property
    def cells(self):
        return [self[name] for name in ("design", "qty", "price_minor100", "seconds")]


class LineSet(forms.BaseFormSet):
    """The lines of an order; rows left empty do not count."""

    def cleaned(self, *, channel: str, order: Order | None = None) -> list[tuple]:
        """
        Return (line before or None, design, number, price, seconds) for each row that is filled.

        A price left empty is the design's own on the order's channel; without one the row is wrong.
        """
        before: dict[int, OrderLine] = {}
        if order is not None:
            before = {line.pk: line for line in order.lines.all()}
        rows = []
        for form in self.forms:
            given = form.cleaned_data
            if not given.get("design") or given.get("DELETE"):
                continue
            price = given.get("price_minor100")
            if price is None:
                price = default_price_minor100(given["design"], channel)
            if price is None:
                form.add_error(
                    "price_minor100",
                    f"{given['design'].name} has no price for this channel; give one (0 for none).",
                )
                continue
            rows.append(
                (before.get(given.get("line")), given["design"], given["qty"], price,
                 given["seconds"])
            )  # fmt: skip
        return rows


def line_set(*, rows: int, changing: bool):
    return forms.formset_factory(
        LineForm,
        formset=LineSet,
        extra=rows,
        can_delete=changing,
        max_num=MOST_LINES,
        absolute_max=MOST_LINES,
    )


PICK = re.compile(r"^pick-(\d{1,12})-(\d{1,12})$")


class SendForm(WorkshopForm):
    """How many of which lot go out on which line, oldest first unless changed."""

    on = forms.DateField(label="Sent on")
    carrier = forms.CharField(label="Carrier and parcel number", max_length=120, required=False)
    client_id = EntryId()

    def __init__(self, data=None, *, workshop, offers, lines, **keywords) -> None:
        super().__init__(data, workshop=workshop, **keywords)
        self.lines = {line.pk: line for line in lines}
        self.lots: dict[int, Lot] = {offer.lot.pk: offer.lot for offer in offers}
        self.offers = offers
        for offer in offers:
            self._add(offer.field, f"{offer.line.design.name}, lot {offer.lot.code}",
                      offer.suggested)  # fmt: skip
        # A lot that was offered and is no longer must be refused by name, never passed over.
        for name in data or ():
            if (match := PICK.match(name)) and name not in self.fields:
                lot = Lot.objects.select_related("item").filter(pk=int(match[2])).first()
                if lot and int(match[1]) in self.lines:
                    self.lots[lot.pk] = lot
                    self._add(name, f"lot {lot.code}", 0)

    def _add(self, name: str, label: str, suggested: int) -> None:
        self.fields[name] = forms.IntegerField(
            label=f"How many of {label}",
            required=False,
            min_value=0,
            initial=suggested,
            widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
        )

    @property
    def picks(self) -> list[tuple[OrderLine, Lot, int]]:
        found = []
        for name, qty in self.cleaned_data.items():
            if qty and (match := PICK.match(name)):
                found.append((self.lines[int(match[1])], self.lots[int(match[2])], qty))
        return found

    @property
    def rows(self):
        return [(offer, self[offer.field]) for offer in self.offers]

    @property
    def other_fields(self):
        return [self["on"], self["carrier"]]


class ReasonForm(WorkshopForm):
    reason = forms.CharField(label="Reason", max_length=300)


class UndoForm(ReasonForm):
    client_id = EntryId()


class TakeBackForm(WorkshopForm):
    qty = forms.IntegerField(label="How many came back", min_value=1)
    reason = forms.CharField(label="Why", max_length=300)
    client_id = EntryId()
