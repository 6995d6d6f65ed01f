"""
Thousands of random receipts, sales, counts, scrap, things set aside and undos, against a plain
model: balances are equal, nothing is below nothing, and value is conserved to the last unit.
"""

from collections import defaultdict

import hypothesis.strategies as st
import pytest
from django.db import connection, transaction
from hypothesis import HealthCheck, settings
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from conftest import AT, ON
from pourwright.workshop.stores import ledger, services
from pourwright.workshop.stores.models import (
    INSIDE,
    Balance,
    EntryKind,
    Item,
    Kind,
    Measure,
    Origin,
    Place,
)

# Small, so that counts, undos and last pieces meet each other often.
QUANTITIES = st.integers(1, 9)
PRICES = st.integers(0, 1_000)


class Workshop(RuleBasedStateMachine):
    """The services on one side; on the other a dictionary from (lot, place) to what is there."""

    def __init__(self):
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.model = defaultdict(lambda: [0, 0])
        self.lots = []
        self.done = []  # (entry, the model's steps) that an undo may take back

    def teardown(self):
        transaction.set_rollback(True)
        self.atomic.__exit__(None, None, None)

    @initialize()
    def stock_some_items(self):
        self.items = [
            Item.objects.create(kind=Kind.WAX, name="wax", measure=Measure.MASS),
            Item.objects.create(kind=Kind.VESSEL, name="vessel", measure=Measure.COUNT),
        ]

    # --- the plain model ---

    def carry(self, lot, source, target, qty, value):
        self.model[lot.pk, source][0] -= qty
        self.model[lot.pk, source][1] -= value
        self.model[lot.pk, target][0] += qty
        self.model[lot.pk, target][1] += value
        return (lot, source, target, qty, value)

    def worth(self, lot, place, qty):
        there, value = self.model[lot.pk, place]
        return value if qty == there else value * qty // there

    def pick(self, data, place=Place.STORE):
        held = [lot for lot in self.lots if self.model[lot.pk, place][0] > 0]
        return data.draw(st.sampled_from(held)) if held else None

    # --- what a workshop does ---

    @precondition(lambda self: len(self.lots) < 8)
    @rule(
        lines=st.lists(st.tuples(st.integers(0, 1), QUANTITIES, PRICES), min_size=1, max_size=2),
        freight=st.integers(0, 500),
    )
    def receive(self, lines, freight):
        receipt = services.receive(
            lines=[
                services.Received(item=self.items[item], qty=qty, price_minor100=price)
                for item, qty, price in lines
            ],
            freight_minor100=freight,
            on=ON,
            at=AT,
        )
        steps = []
        rows = list(receipt.lines.select_related("lot__item").order_by("id"))
        assert sum(row.freight_minor100 for row in rows) == freight
        for row, (_, qty, price) in zip(rows, lines, strict=True):
            value = price + row.freight_minor100
            steps.append(self.carry(row.lot, Place.SUPPLIER, Place.STORE, qty, value))
            self.lots.append(row.lot)
        self.done.append((receipt.entry, steps))

    @rule(data=st.data(), qty=QUANTITIES)
    def sell(self, data, qty):
        lot = self.pick(data)
        if lot is None:
            return
        there = self.model[lot.pk, Place.STORE][0]
        step = ledger.Step(lot=lot, from_place=Place.STORE, to_place=Place.SOLD, qty=qty)
        if qty > there:
            with pytest.raises(ledger.Overdrawn):
                ledger.post(kind=EntryKind.DESPATCH, on=ON, at=AT, steps=[step])
            return
        entry = ledger.post(kind=EntryKind.DESPATCH, on=ON, at=AT, steps=[step])
        value = self.worth(lot, Place.STORE, qty)
        self.done.append((entry, [self.carry(lot, Place.STORE, Place.SOLD, qty, value)]))

    @rule(data=st.data(), counted=st.integers(0, 12))
    def count(self, data, counted):
        lot = self.pick(data)
        if lot is None:
            return
        there, value = self.model[lot.pk, Place.STORE]
        entry = services.count(
            lot=lot, place=Place.STORE, counted=counted, reason="counted", on=ON, at=AT
        )
        if counted == there:
            assert entry is None
        elif counted > there:
            worth = value * (counted - there) // there
            step = self.carry(lot, Place.CORRECTION, Place.STORE, counted - there, worth)
            self.done.append((entry, [step]))
        else:
            worth = self.worth(lot, Place.STORE, there - counted)
            step = self.carry(lot, Place.STORE, Place.CORRECTION, there - counted, worth)
            self.done.append((entry, [step]))

    @rule(data=st.data(), share=st.integers(1, 100))
    def set_aside(self, data, share):
        lot = self.pick(data)
        if lot is None:
            return
        qty = max(1, self.model[lot.pk, Place.STORE][0] * share // 100)
        value = self.worth(lot, Place.STORE, qty)
        child = services.set_aside(
            lot=lot, place=Place.STORE, qty=qty, origin=Origin.TESTER, on=ON, at=AT
        )
        steps = [
            self.carry(lot, Place.STORE, Place.MADE, qty, value),
            self.carry(child, Place.MADE, Place.TEST, qty, value),
        ]
        self.lots.append(child)
        self.done.append((child.made_from.get().entry, steps))

    @precondition(lambda self: self.done)
    @rule(data=st.data())
    def undo(self, data):
        entry, steps = data.draw(st.sampled_from(self.done))
        possible = True
        for lot, _, target, qty, _ in reversed(steps):
            if target in INSIDE and self.model[lot.pk, target][0] < qty:
                possible = False
        if not possible:
            with pytest.raises(ledger.Overdrawn), transaction.atomic():
                ledger.undo(entry, reason="a slip", on=ON, at=AT)
            return
        ledger.undo(entry, reason="a slip", on=ON, at=AT)
        self.done.remove((entry, steps))
        for lot, source, target, qty, value in reversed(steps):
            there, worth = self.model[lot.pk, target]
            if target in INSIDE:
                value = worth if qty and qty == there else min(value, worth)
            self.carry(lot, target, source, qty, value)

    # --- what must always hold ---

    @invariant()
    def balances_agree(self):
        found = {(b.lot_id, b.place): (b.qty, b.value) for b in Balance.objects.all()}
        wanted = {key: tuple(held) for key, held in self.model.items() if any(held)}
        assert {key: held for key, held in found.items() if any(held)} == wanted
        assert all(
            qty >= 0 <= value for (_, place), (qty, value) in found.items() if place in INSIDE
        )
        assert sum(value for _, value in found.values()) == 0
        assert ledger.check_ledger() == []


@pytest.mark.django_db
@pytest.mark.both_databases
def test_any_run_of_a_workshop_keeps_quantity_and_value():
    run_state_machine_as_test(
        Workshop,
        settings=settings(
            max_examples=30 if connection.vendor == "sqlite" else 12,
            stateful_step_count=50,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
