"""What holds for every page: the policy it is sent with, whom it answers, what it needs to save."""

from __future__ import annotations

import re
from decimal import Decimal
from io import BytesIO
from itertools import product

import pytest
from django.test import Client
from django.urls import NoReverseMatch, URLPattern, get_resolver, reverse
from django.utils import timezone
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from burn_workshop import lit, take
from candle_examples import pour, set_up_bench
from composition_examples import LINALOOL, confirmed, drafted
from conftest import AT, ON
from plan_examples import planned as planned_for
from pourwright.workshop import safekeeping, settings
from pourwright.workshop.burns import services as burning
from pourwright.workshop.burns.models import TestPiece
from pourwright.workshop.contents.models import Instrument
from pourwright.workshop.designs.models import Design
from pourwright.workshop.formulas.models import Formula
from pourwright.workshop.gates import services as gates
from pourwright.workshop.gates.services import lot_checks
from pourwright.workshop.hazard.keeping import keep_sheet
from pourwright.workshop.heat.models import Forecast
from pourwright.workshop.house.models import Job
from pourwright.workshop.labels.models import Printer, SheetSize
from pourwright.workshop.labels.services import sheets
from pourwright.workshop.orders import services as orders
from pourwright.workshop.orders.models import Customer
from pourwright.workshop.panels import services as panels
from pourwright.workshop.panels.services import Candidate
from pourwright.workshop.planning import purchases as buying
from pourwright.workshop.planning.models import Market, Purchase
from pourwright.workshop.planning.paper import calendar_key
from pourwright.workshop.pours import services as pours
from pourwright.workshop.pours.models import Filling, Melter
from pourwright.workshop.pours.services import PitcherPlan
from pourwright.workshop.stores.models import Entry, Lot, Receipt

# What each directive may be at most; a directive not named here would be a new freedom.
ALLOWED = {
    "default-src": {"'none'"},
    "script-src": {"'self'"},
    "style-src": {"'self'"},
    "img-src": {"'self'", "data:"},
    "font-src": {"'self'"},
    "connect-src": {"'self'"},
    "manifest-src": {"'self'"},
    "form-action": {"'self'"},
    "frame-ancestors": {"'none'"},
    "base-uri": {"'none'"},
}
# Without these default-src does not speak for them: they must be closed by name.
BY_NAME = {"default-src", "form-action", "frame-ancestors", "base-uri"}


def patterns(within=None, prefix=""):
    """Yield every URL pattern's full name with what it has to be filled with."""
    for one in within if within is not None else get_resolver().url_patterns:
        if isinstance(one, URLPattern):
            yield f"{prefix}{one.name}", tuple(sorted(one.pattern.regex.groupindex))
        else:
            inner = f"{prefix}{one.namespace}:" if one.namespace else prefix
            yield from patterns(one.url_patterns, inner)


EVERY = sorted(set(patterns()))


@pytest.fixture
def addresses(workshop, monkeypatch) -> dict:
    """An address for every URL pattern, in a workshop that has one record of each kind."""
    # The tests' own database has no file of the name that a backup looks for.
    monkeypatch.setattr(safekeeping, "back_up", lambda data, copy: copy.write_bytes(b"a copy"))
    bench = set_up_bench()
    done = pour(bench, seconds=1)
    filling = Filling.objects.get(pitcher__pour=done)
    version = bench.version
    for subject, checks in (
        (version, gates.design_checks(version, on=ON)),
        (filling.lot, lot_checks(filling.lot, on=ON)),
    ):
        for check in checks:
            if check.state == "open" and check.name != "design":
                gates.waive(subject=subject, check_name=check.name, reason="a test", by="", at=AT)
        gates.release(subject, by="", on=ON, at=AT)
    customer = Customer.objects.create(name="Aster Row")
    order = orders.new_order(
        customer=customer, channel="direct", on=ON, lines=[(bench.design, 2, 180_000, False)]
    )
    sent = orders.despatch(order, on=ON, at=AT)
    plan = PitcherPlan(formula_version=version.formula_version, fillings=[(version, 2)])
    planned = pours.open_pour(pours.plan(on=ON, pitchers=[plan], workshop=workshop), at=AT)
    pk = {
        "formulas": Formula.objects.first().pk,
        "designs": Design.objects.first().pk,
        "panels": Design.objects.first().pk,
        "stores": bench.items["vessel"].pk,
        "orders": customer.pk,
        "gates": version.pk,
        "pours": Melter.objects.create(name="Kettle").pk,
    }
    job = Job.objects.create(kind="a test", key="", asked_at=AT, state="done")
    special = {
        "job": {"pk": job.pk},
        "job_stop": {"pk": job.pk},
        "stores:supplier": {"pk": bench.items["wax"].supplier_id},
        "stores:supplier_edit": {"pk": bench.items["wax"].supplier_id},
        "stores:entry": {"pk": Entry.objects.first().pk},
        "stores:undo": {"pk": Entry.objects.first().pk},
        "stores:receipt": {"number": Receipt.objects.first().number},
        "stores:set_aside": {"code": filling.lot.code},
        "orders:packing": {"number": order.number, "pk": sent.pk},
        "designs:jig_file": {"pk": version.design_id, "kind": "svg"},
        "gates:decide": {"kind": "design", "pk": version.pk, "what": "release"},
        **_hazard_and_labels(bench, filling),
        **_heat(bench, planned),
        **_burns(bench, workshop),
        **_planning(bench),
        "exchange_template": {"kind": "supplies"},
        "exchange_table": {"name": "lots", "ending": "csv"},
    }
    values = {"code": filling.lot.code, "kind": "wax"}
    numbers = {
        "pours": planned.number, "orders": order.number, "trace": order.number,
        "panels": _panel(bench).number, "burns": TestPiece.objects.latest("id").number,
    }  # fmt: skip
    found = {}
    for name, wants in EVERY:
        part = name.partition(":")[0]
        given = values | {"pk": pk.get(part), "number": numbers.get(part)} | special.get(name, {})
        if part == "stores" and name not in special:
            given["code"] = bench.lots["wax"].code
        try:
            found[name, wants] = reverse(name, kwargs={key: given[key] for key in wants})
        except (KeyError, NoReverseMatch) as gap:
            raise AssertionError(f"say above what {name} is filled with: {gap}") from gap
    assert Lot.objects.filter(code=filling.lot.code).exists()
    return found


def _heat(bench, planned) -> dict[str, dict]:
    """Return what the addresses of heat are filled with."""
    forecast = Forecast.objects.create(
        version=bench.version, kind="set", made_at=AT,
        inputs={"pour_c": 60.0, "vessel_c": None, "room": {"air_c": 20.0, "gap_mm": None}},
    )  # fmt: skip
    return {
        "heat:setting": {"pk": bench.design.pk},
        "heat:burning": {"pk": bench.design.pk},
        "heat:melter": {"pk": Melter.objects.first().pk},
        "heat:pour_melt": {"number": planned.number},
        "heat:material": {"pk": bench.items["wax"].pk},
        "heat:forecast": {"pk": forecast.pk},
    }


def _panel(bench):
    candles = [Candidate(version=bench.version), Candidate(words="the one from last year")]
    return panels.plan(
        candles, kind="ranking", question="Which throws most?", scent="hot", on=ON, assessors=4,
        alpha=Decimal("0.05"), seed=1, at=AT,
    )  # fmt: skip


def _burns(bench, workshop) -> dict[str, dict]:
    """Return what the addresses of test burns are filled with."""
    now = timezone.now()
    piece = take(bench, workshop, on=now.date(), at=now)[0]
    session = burning.begin_session(room_holds=2, person_watches=2, on=now.date(), at=now)
    burn = lit(piece, at=now, session=session)
    reading = burning.read(burn, at=now, flame_mm=[Decimal(20)])
    out = BytesIO()
    Image.new("RGB", (8, 8)).save(out, "PNG")
    photo = burning.photo(burn, data=out.getvalue(), at=now)
    of_burn = ("burn", "read", "full", "photo", "out", "after", "anew", "leave_out")
    return {
        **{f"burns:{page}": {"pk": burn.pk, "group": "flame"} for page in of_burn},
        "burns:set": {"pk": session.pk},
        "burns:take": {"pk": bench.version.pk},
        "burns:next": {"pk": bench.design.pk},
        "burns:design": {"pk": bench.design.pk},
        "burns:leave_out_reading": {"pk": reading.pk},
        "burns:picture": {"pk": photo.pk},
        "burns:leave_out_photo": {"pk": photo.pk},
    }


def _planning(bench) -> dict[str, dict]:
    """Return what the addresses of the plan are filled with."""
    now = timezone.localtime()
    plan = planned_for(bench, now=now, qty=60)
    item, supplier = bench.items["lid"], bench.items["lid"].supplier
    offer = buying.keep_offer(item, supplier=supplier, pack_qty=10, prices=[(1, 9_000)])
    sent = Purchase.objects.create(
        number="PO-1", supplier=supplier, on=now.date(), expected_on=now.date()
    )
    sent.lines.create(item=item, packs=2, pack_qty=10, price_minor100=9_000)
    market = Market.objects.create(name="Quay market")
    pages = ("plan", "so_far", "week")
    return {
        **{f"planning:{page}": {"number": plan.number, "monday": str(now.date())}
           for page in pages},
        "planning:design": {"pk": bench.design.pk},
        "planning:melter": {"pk": Melter.objects.first().pk},
        "planning:market": {"pk": market.pk},
        "planning:market_day": {"pk": market.days.create(on=now.date()).pk},
        "planning:item_offers": {"pk": item.pk},
        "planning:offer": {"pk": offer.pk},
        "planning:freight": {"pk": supplier.pk},
        **{f"planning:{page}": {"number": "PO-1"}
           for page in ("purchase", "take_in", "purchase_paper")},
        "planning:order_paper": {"supplier": "supplier-0", "on": str(now.date())},
        "planning:calendar": {"word": calendar_key(at=AT).word},
        "planning:melt": {"pk": plan.melts.first().pk},
    }  # fmt: skip


OF_AN_ITEM = ("item", "alone", "sheet_add", "type", "paste")


def _hazard_and_labels(bench, filling: Filling) -> dict[str, dict]:
    """Return what the addresses of sheets, net contents and labels are filled with."""
    oil, design = bench.items["oil"].pk, filling.design_version.design_id
    stands = confirmed(bench.items["oil"], LINALOOL).pk
    draft = drafted(bench.items["oil"], LINALOOL).pk
    sheet = keep_sheet(one_page_pdf(), name="sheet.pdf", at=AT, pages=1, has_text=True)
    file = {"sha256": sheet.sha256}
    scale = Instrument.objects.create(what="scale", name="Bench scale")
    measured = SheetSize.objects.create(
        columns=2, rows=4, width_mm=90, height_mm=60, left_mm=10, top_mm=15, across_mm=95,
        down_mm=65,
    )  # fmt: skip
    printer = Printer.objects.create(name="By the window")
    return {
        **{f"hazard:{page}": {"pk": oil} for page in OF_AN_ITEM},
        "hazard:composition": {"pk": draft},
        "hazard:discard": {"pk": draft},
        "hazard:withdraw": {"pk": stands},
        "hazard:again": {"pk": stands},
        "hazard:sheet": file,
        "hazard:page": file | {"page": "1"},
        "contents:instrument": {"pk": scale.pk},
        "contents:target": {"pk": design},
        "contents:filling": {"pk": filling.pk},
        "contents:filling_bench": {"pk": filling.pk},
        "labels:design": {"pk": design},
        "labels:face_pdf": {"pk": design, "face": "lid"},
        "labels:face_svg": {"pk": design, "face": "lid"},
        "labels:sheet": {"pk": measured.pk},
        "labels:printer": {"pk": printer.pk},
        "labels:test_page": {"key": next(iter(sheets()))},
    }  # fmt: skip


def one_page_pdf() -> bytes:
    out = BytesIO()
    canvas = Canvas(out)
    canvas.drawString(72, 700, "A safety data sheet")
    canvas.save()
    return out.getvalue()


def policy_of(answer) -> dict[str, set[str]]:
    header = answer.headers["Content-Security-Policy"]
    return {words[0]: set(words[1:]) for words in map(str.split, header.split(";"))}


def assert_strict(answer, where: str) -> None:
    policy = policy_of(answer)
    assert policy.keys() >= BY_NAME, where
    for directive, sources in policy.items():
        assert directive in ALLOWED, f"{where}: {directive} is new"
        assert sources <= ALLOWED[directive], f"{where}: {directive} allows {sources}"
    assert answer.headers["X-Frame-Options"] == "DENY", where
    assert answer.headers["X-Content-Type-Options"] == "nosniff", where
    assert answer.headers["Referrer-Policy"] == "same-origin", where


def read(answer) -> bytes:
    """Return all that an answer sends; a file is closed once it is read to its end."""
    return answer.getvalue() if answer.streaming else answer.content


# What a strict policy would block anyway, and a page should therefore not have.
NOT_IN_A_PAGE = (
    re.compile(rb"<script(?![^>]*\bsrc=)", re.I),
    re.compile(rb"<style", re.I),
    re.compile(rb"\sstyle\s*=", re.I),
    re.compile(rb"<[^>]+\son[a-z]+\s*=", re.I),
    re.compile(rb"javascript:", re.I),
)


def test_every_address_is_sent_with_the_strict_policy_and_no_cookie_for_another_site(
    addresses, client
):
    """The cookies are the token's and a message's; neither goes along from another site."""
    opened, named = 0, set()
    client.post(reverse("orders:customer_new"), {"name": "Birch Hill"})
    for (name, _), address in addresses.items():
        answer = client.get(address)
        assert answer.status_code in (200, 302, 405), f"{name} at {address}: {answer.status_code}"
        opened += answer.status_code == 200
        read(answer)
        assert_strict(answer, name)
        if answer.headers["Content-Type"].startswith("text/html"):
            for pattern in NOT_IN_A_PAGE:
                found = pattern.search(answer.content)
                assert not found, f"{name}: {answer.content[found.start() : found.end() + 60]}"
            assert loaded_from_elsewhere(answer) == [], name
        for cookie in answer.cookies.values():
            named.add(cookie.key)
            assert cookie["samesite"] in ("Strict", "Lax"), f"{cookie.key} of {address}"
            # Taking one away sends it empty.
            assert cookie["httponly"] or not cookie.value, f"{cookie.key} of {address}"
    assert opened > 50, "hardly a page was opened"
    assert "csrftoken" in named
    said = client.post(reverse("orders:customer_new"), {"name": "Cedar Bank"}).cookies
    assert said["messages"]["samesite"] in ("Strict", "Lax")
    assert said["messages"]["httponly"]


def loaded_from_elsewhere(answer) -> list[bytes]:
    """Return what a page would load from another machine."""
    loads = rb'<(?:script|link|img|iframe|source)[^>]+(?:src|href)="([^"]*)'
    found = re.findall(loads, answer.content)
    return [address for address in found if re.match(rb"(?:[a-z]+:)?//", address)]


def test_what_goes_wrong_is_sent_with_the_strict_policy(db, client, monkeypatch):
    assert_strict(client.get("/nothing/here/"), "404")
    assert client.get("/nothing/here/").status_code == 404

    def breaks(*arguments, **keywords):
        raise RuntimeError("broken on purpose")

    monkeypatch.setattr("pourwright.workshop.house.views.now.day", breaks)
    client.raise_request_exception = False
    answer = client.get("/")
    assert answer.status_code == 500
    assert b"broken on purpose" not in answer.content
    assert_strict(answer, "500")


FOREIGN = ("evil.example", "127.0.0.1.evil.example", "192.0.2.7", "")


def test_another_host_name_is_refused_on_every_page(addresses, client):
    """A page of another site whose name is made to lead here (DNS rebinding) gets nothing."""
    for ((name, _), address), host in product(addresses.items(), FOREIGN):
        answer = client.get(address, headers={"host": host})
        assert answer.status_code == 400, f"{name} answers to “{host}”"
        assert_strict(answer, name)


def test_the_program_answers_to_this_machine_alone():
    assert set(settings.ALLOWED_HOSTS) == {"localhost", "127.0.0.1", "[::1]"}
    assert settings.DEBUG is False


def test_a_form_without_its_token_is_refused_everywhere(addresses):
    stranger = Client(enforce_csrf_checks=True)
    before = Entry.objects.count()
    for (name, _), address in addresses.items():
        answer = stranger.post(address, {"reason": "none", "do": "cancel"})
        assert answer.status_code == 403, f"{name} takes a form from anywhere"
        assert_strict(answer, name)
    assert Entry.objects.count() == before


def test_a_form_with_the_token_of_another_site_is_refused(workshop):
    client = Client(enforce_csrf_checks=True)
    page = client.get(reverse("workshop")).content.decode()
    token = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]
    sent = {"csrfmiddlewaretoken": token, "name": "Taken over"}
    foreign = client.post(reverse("workshop"), sent, headers={"origin": "https://evil.example"})
    assert foreign.status_code == 403
    own = client.post(reverse("workshop"), sent, headers={"origin": "http://testserver"})
    assert own.status_code == 200  # read, and other fields found missing
