"""
A workshop at random: parcels, pours with what really came of them, finishing, sales, returns,
scrap, corrections and undos, through the services a person uses, against plain sums.

The plain model knows nothing of lots or layers. It only adds up: what of each item must be in the
store, how many candles must be on the shelf, sold, back or scrapped, and that all the money that
came in is somewhere.
"""

from collections import Counter
from decimal import Decimal

import hypothesis.strategies as st
import pytest
from django.db import connection, transaction
from django.db.models import Sum
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
from pourwright.core.errors import BadInput
from pourwright.workshop.designs import services as designs
from pourwright.workshop.formulas import services as formulas
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.models import Finishing
from pourwright.workshop.house.models import Workshop
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Channel
from pourwright.workshop.pours import services as pours
from pourwright.workshop.pours.models import LotCost, Use
from pourwright.workshop.shelf import services as shelf
from pourwright.workshop.stores import ledger
from pourwright.workshop.stores import services as stores
from pourwright.workshop.stores.models import (
    INSIDE,
    Balance,
    Basis,
    Item,
    Kind,
    Lot,
    LotSource,
    Measure,
    Move,
    Place,
    VesselFacts,
    WaxFacts,
)

FILL_MG = 150_000
PARCEL = {"wax": 5_000_000, "oil": 500_000, "cup": 20, "wick": 30, "box": 15}
MADE_OF = {Use.WAX: "wax", Use.OIL: "oil"}


class Year(RuleBasedStateMachine):
    def __init__(self):
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.store = Counter()
        self.candles = Counter()
        self.money_in = 0
        self.closed, self.lots, self.sent = [], [], []

    def teardown(self):
        try:
            if hasattr(self, "design"):
                self.the_services_say_the_same()
        finally:
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    def the_services_say_the_same(self):
        for name in PARCEL:
            assert ledger.stock_of(self.items[name]) == self.store[name], name
        assert ledger.stock_of(self.formula.formula.mix) == self.store["mix"]
        for place in ("shelf", "sold", "returned"):
            there = ledger.stock_of(self.design.design.candle, place)
            assert there == self.candles[place], place

    @initialize(rate=st.integers(0, 300_000), overhead=st.integers(0, 25))
    def set_up(self, rate, overhead):
        self.workshop = Workshop(
            pk=1, labour_rate_minor100=rate, overhead_pct=Decimal(overhead), cure_days=0
        )
        self.workshop.save()
        kinds = {
            "wax": (Kind.WAX, Measure.MASS),
            "oil": (Kind.OIL, Measure.MASS),
            "cup": (Kind.VESSEL, Measure.COUNT),
            "wick": (Kind.WICK, Measure.COUNT),
            "box": (Kind.PART, Measure.COUNT),
        }
        self.items = {
            name: Item.objects.create(kind=kind, name=name, measure=measure)
            for name, (kind, measure) in kinds.items()
        }
        WaxFacts.objects.create(
            item=self.items["wax"], max_load_pct=12, density_cold_g_ml=Decimal("0.9")
        )
        VesselFacts.objects.create(item=self.items["cup"], inside_mm=70, depth_mm=80)
        recipe = formulas.Recipe(
            waxes=[(self.items["wax"], Decimal(100))],
            oils=[(self.items["oil"], Decimal(100))],
            extras=[],
            load_pct=Decimal(8),
            load_basis=Basis.OF_WAX,
        )
        self.formula = formulas.new_formula(name="Plum", recipe=recipe, on=ON)
        spec = designs.DesignSpec(
            formula_version=self.formula,
            vessel=self.items["cup"],
            wick=self.items["wick"],
            wick_count=2,
            fill_mg=FILL_MG,
            parts=[(self.items["box"], 1, "finish")],
            minutes_each=Decimal(3),
        )
        self.design = designs.new_design(name="Plum in the cup", spec=spec, on=ON)
        self.pass_by_hand(self.design)
        self.parcel(price=4321, freight=987, times=3)

    def pass_by_hand(self, subject):
        check = gates.design_checks if subject == self.design else gates.lot_checks
        for name in [c.name for c in check(subject, on=ON) if c.state == "open" and c.waivable]:
            gates.waive(subject=subject, check_name=name, reason="a test", by="me", at=AT)
        gates.release(subject, by="me", on=ON, at=AT)

    def unreleased(self):
        return [lot for lot in self.lots if not gates.is_released(lot)]

    # --- what a workshop does ---

    @rule(price=st.integers(0, 9_999), freight=st.integers(0, 999), times=st.integers(1, 3))
    def parcel(self, price, freight, times):
        stores.receive(
            lines=[
                stores.Received(item=self.items[name], qty=qty * times, price_minor100=price)
                for name, qty in PARCEL.items()
            ],
            freight_minor100=freight,
            on=ON,
            at=AT,
        )
        self.store.update({name: qty * times for name, qty in PARCEL.items()})
        self.money_in += price * len(PARCEL) + freight

    @rule(
        wanted=st.integers(1, 6),
        spoilt=st.tuples(st.integers(0, 1), st.integers(0, 1)),
        off_mg=st.integers(-400, 400),
        left_g=st.integers(0, 3),
    )
    def pour(self, wanted, spoilt, off_mg, left_g):
        plan = pours.PitcherPlan(
            formula_version=self.formula, fillings=[(self.design, wanted)], remelts=()
        )
        pour = pours.plan(on=ON, pitchers=[plan], workshop=self.workshop)
        try:
            pours.open_pour(pour, at=AT)
        except pours.CannotPour:
            pours.abandon(pour, reason="the store is short", at=AT)
            return
        took = Counter()
        for take in pour.takes.exclude(use=Use.PIECE):
            try:
                pours.weigh(take, actual=take.target + off_mg, at=AT)
            except pours.CannotPour:  # the lot holds just what was planned
                pours.weigh(take, actual=take.target, at=AT)
            take.refresh_from_db()
            took[MADE_OF[take.use]] += take.actual
        seconds = spoilt[0]
        scrapped = min(spoilt[1], wanted - seconds)
        good = wanted - seconds - scrapped
        filling = pour.pitchers.get().fillings.get()
        made_before = self.work()
        pours.close(
            pour,
            outcomes={filling.pk: pours.Outcome(good=good, seconds=seconds, scrapped=scrapped)},
            left={pour.pitchers.get().pk: left_g * 1000},
            on=ON,
            at=AT,
            workshop=self.workshop,
        )
        self.money_in += self.work() - made_before
        took.update(cup=wanted, wick=2 * wanted)
        self.store.subtract(took)
        self.store["mix"] += left_g * 1000
        self.candles.update(shelf=good + seconds, scrap=scrapped)
        self.closed.append((pour, took, good + seconds, scrapped, left_g * 1000))
        filling.refresh_from_db()
        self.lots += [lot for lot in (filling.lot, filling.seconds_lot) if lot]

    def work(self):
        """What labour and overhead have brought so far, as the moves say."""
        came = Move.objects.filter(from_place=Place.WORK).aggregate(Sum("value"))["value__sum"]
        went = Move.objects.filter(to_place=Place.WORK).aggregate(Sum("value"))["value__sum"]
        return (came or 0) - (went or 0)

    @precondition(lambda self: self.closed)
    @rule(data=st.data())
    def reopen_a_pour(self, data):
        row = data.draw(st.sampled_from(self.closed))
        pour, took, kept, scrapped, left = row
        pour.refresh_from_db()
        before = self.work()
        lots = {move.lot_id for move in pour.entry.moves.filter(from_place=Place.MADE)}
        try:
            with transaction.atomic():
                pours.reopen(pour, reason="a slip of the pen", on=ON, at=AT)
        except BadInput:
            assert Move.objects.filter(lot__in=lots).exclude(entry=pour.entry).exists() or any(
                gates.is_released(lot) for lot in Lot.objects.filter(pk__in=lots)
            ), "a pour that nothing has happened to can be reopened"
            return
        pours.abandon(pour, reason="poured into the wrong cups", at=AT)
        self.money_in += self.work() - before
        self.store.update(took)
        self.store["mix"] -= left
        self.candles.subtract(shelf=kept, scrap=scrapped)
        self.closed.remove(row)
        self.lots = [lot for lot in self.lots if lot.pk not in lots]

    @precondition(lambda self: self.unreleased())
    @rule(data=st.data(), minutes=st.integers(0, 40))
    def finish_and_release(self, data, minutes):
        lot = data.draw(st.sampled_from(self.unreleased()))
        held, _ = ledger.held(lot, Place.SHELF)
        before = self.work()
        try:
            with transaction.atomic():
                shelf.finish(
                    lot,
                    checks=dict.fromkeys(Finishing.CHECKS, True),
                    by="me",
                    minutes=minutes,
                    on=ON,
                    at=AT,
                    workshop=self.workshop,
                )
        except shelf.CannotFinish:
            assert held == 0 or self.store["box"] < held or lot.finishing.done_at
            return
        self.money_in += self.work() - before
        self.store["box"] -= held
        self.pass_by_hand(lot)

    @precondition(lambda self: len(self.unreleased()) < len(self.lots))
    @rule(wanted=st.integers(1, 4), seconds=st.booleans())
    def sell(self, wanted, seconds):
        order = orders.new_order(
            channel=Channel.MARKET, on=ON, lines=[(self.design.design, wanted, 1500, seconds)]
        )
        sellable = gates.sellable(self.design.design, on=ON, seconds=seconds)
        there = sum(balance.qty for balance in sellable)
        try:
            with transaction.atomic():
                sent = orders.despatch(order, on=ON, at=AT)
        except orders.CannotSend:
            assert there < wanted
            return
        self.candles.update(sold=wanted, shelf=-wanted)
        self.sent.append(sent)

    @precondition(lambda self: self.sent)
    @rule(data=st.data(), whole=st.booleans())
    def take_back(self, data, whole):
        """A customer returns one candle, or the whole despatch turns out never to have left."""
        sent = data.draw(st.sampled_from(self.sent))
        line = sent.lines.first()
        if not whole and orders.still_out(line):
            orders.take_back(line, qty=1, reason="the lid was loose", on=ON, at=AT)
            self.candles.update(returned=1, sold=-1)
            return
        qty = sum(line.qty for line in sent.lines.all())
        try:
            with transaction.atomic():
                orders.undo_despatch(sent, reason="still in the van", on=ON, at=AT)
        except BadInput:
            assert any(line.returns.exists() for line in sent.lines.all())
            return
        self.candles.update(sold=-qty, shelf=qty)
        self.sent.remove(sent)

    @rule(data=st.data(), name=st.sampled_from(sorted(PARCEL)), change=st.integers(-3, 3))
    def count(self, data, name, change):
        held = ledger.oldest_first(self.items[name])
        if not held:
            return
        balance = data.draw(st.sampled_from(held))
        counted = max(balance.qty + change, 0)
        before, value = balance.qty, ledger.held(balance.lot)[1]
        entry = stores.count(
            lot=balance.lot, place=Place.STORE, counted=counted, reason="counted", on=ON, at=AT
        )
        self.store[name] += counted - before
        assert (entry is None) == (counted == before)
        self.money_in += max(ledger.held(balance.lot)[1] - value, 0)

    # --- what must always hold ---

    @invariant()
    def quantities_agree_with_plain_sums(self):
        summed = Balance.objects.order_by().values_list("lot__item", "place").annotate(Sum("qty"))
        there = Counter({(item, place): qty for item, place, qty in summed})
        for name in PARCEL:
            assert there[self.items[name].pk, Place.STORE] == self.store[name], name
        assert there[self.formula.formula.mix.pk, Place.STORE] == self.store["mix"]
        candle = self.design.design.candle
        for place in (Place.SHELF, Place.SOLD, Place.RETURNED):
            assert there[candle.pk, place] == self.candles[place], place

    @invariant()
    def nothing_is_below_nothing_and_the_ledger_is_clean(self):
        inside = Balance.objects.filter(place__in=INSIDE)
        assert not inside.filter(qty__lt=0).exists()
        assert not inside.filter(value__lt=0).exists()
        assert ledger.check_ledger() == []

    @invariant()
    def all_the_money_that_came_in_is_somewhere(self):
        worth = Balance.objects.exclude(
            place__in=[Place.SUPPLIER, Place.WORK, Place.CORRECTION, Place.MADE]
        ).aggregate(Sum("value"))["value__sum"]
        went = Move.objects.filter(to_place=Place.CORRECTION).aggregate(Sum("value"))["value__sum"]
        assert (worth or 0) + (went or 0) == self.money_in

    @invariant()
    def what_is_worked_up_comes_out_with_all_of_its_value(self):
        made = Balance.objects.filter(place=Place.MADE).aggregate(Sum("value"))["value__sum"]
        assert (made or 0) == 0
        # What came back is a lot of its own, made from the one that was sold.
        lots = [lot.pk for lot in self.lots]
        came_from = dict(
            LotSource.objects.filter(parent__in=lots).order_by().values_list("child", "parent")
        )
        worth = Counter()
        for balance in Balance.objects.filter(lot__in=[*lots, *came_from]):
            if balance.lot_id in came_from and balance.place == Place.RETURNED:
                worth[came_from[balance.lot_id]] += balance.value
            elif balance.place in (Place.SHELF, Place.SOLD, Place.SCRAP):
                worth[balance.lot_id] += balance.value
        costs = Counter()
        for lot, value in LotCost.objects.filter(lot__in=lots).values_list("lot", "value"):
            costs[lot] += value
        for lot in self.lots:
            assert costs[lot.pk] == worth[lot.pk], lot.code


@pytest.mark.django_db
@pytest.mark.both_databases
def test_any_year_of_a_workshop_adds_up():
    run_state_machine_as_test(
        Year,
        settings=settings(
            # A server's round trips cost three times as much; what differs there is the locking.
            max_examples=10 if connection.vendor == "sqlite" else 5,
            stateful_step_count=40,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
