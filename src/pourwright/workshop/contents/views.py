"""Net contents: the log of a lot with its checks, the bench, the fill to aim at, instruments."""

from __future__ import annotations

from itertools import groupby

from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from pourwright.core.contents import check_net
from pourwright.core.contents.declared import as_checked
from pourwright.core.errors import BadInput
from pourwright.intake.fills import Weighed
from pourwright.workshop.contents import forms, queries, services, show
from pourwright.workshop.contents.models import Instrument, NetCheck
from pourwright.workshop.designs.models import Design, DesignVersion
from pourwright.workshop.designs.services import declared_of
from pourwright.workshop.gates.services import design_version_ids
from pourwright.workshop.house import doors
from pourwright.workshop.house.lists import page_of
from pourwright.workshop.pours.models import Filling
from pourwright.workshop.stores.models import Kind, Lot

BENCH_MODES = ("empty", "full", "net")


def index(request):
    """Show what waits for its check, the newest checks, and what the weights lean on."""
    on = doors.today()
    checks = page_of(
        request,
        NetCheck.objects.select_related("lot__item").order_by("-id"),
        search=("lot__code", "lot__item__name"),
        size=75,
    )
    return render(
        request,
        "contents/index.html",
        {
            "rows": [list(of_a_time) for _, of_a_time in groupby(checks.rows, _at_once)],
            "waiting": list(queries.waiting_lots(on=on)[:12]),
            "slice": checks,
            "leaning": queries.leaning_on(on=on),
            "retired": queries.leaning_on(on=on, retired=True),
        },
    )


def _at_once(check: NetCheck):
    """What was checked in one go, under the rules of several markets, is one row."""
    return check.lot_id, check.at


# --- the log of a lot ----------------------------------------------------------------------------


def lot(request, code):
    """Show a lot's fills and net checks; a POST names what it does in ``do``."""
    found = get_object_or_404(Lot.objects.select_related("item"), code=code, item__kind=Kind.CANDLE)
    page = LotPage(request, found)
    if request.method == "POST" and (said := page.act(request.POST.get("do", ""))):
        doors.say(request, said)
        return redirect("contents:lot", code=code)
    return render(request, "contents/lot.html", page.context())


def filling(request, pk):
    """Show the fills of a filling whose pour is still open; afterwards its lot's."""
    found = get_object_or_404(
        Filling.objects.select_related("pitcher__pour", "design_version__design", "lot"), pk=pk
    )
    if found.lot is not None:
        return redirect("contents:lot", code=found.lot.code)
    page = LogPage(request, found, found.design_version)
    if request.method == "POST" and (said := page.act(request.POST.get("do", ""))):
        doors.say(request, said)
        return redirect("contents:filling", pk=pk)
    return render(request, "contents/filling.html", page.context())


class LogPage:
    """The fills of a lot or a filling, and what can be done with them."""

    def __init__(self, request, subject, version: DesignVersion | None) -> None:
        self.request = request
        self.subject = subject
        self.version = version
        self.on = doors.today()
        self.workshop = request.workshop
        self.sent: dict[str, object] = {}

    def form(self, name: str, kind, data=None, **more):
        """Return the form that was sent under this name, or a fresh one."""
        if data is None and name in self.sent:
            return self.sent[name]
        form = kind(data, workshop=self.workshop, auto_id=f"{name}-%s", **more)
        if data is not None:
            self.sent[name] = form
        return form

    def act(self, do: str) -> str:
        action = getattr(self, f"do_{do}", None)
        if action is None:
            raise Http404(do)
        return action(self.request.POST) or ""

    def do_column(self, data):
        form = self.form("column", forms.ColumnForm, data, files=self.request.FILES)
        if not form.is_valid():
            return None
        given = form.cleaned_data
        with doors.refusals(form, "weights"):
            made = services.log_fills(
                self.subject, given["vessels"], by=given["by"], at=doors.now(),
                scale=given["scale"], client_id=given["client_id"],
            )  # fmt: skip
            return f"{len(made)} vessel{'s'[: len(made) != 1]} entered."
        return None

    def do_leave_out(self, data):
        form = self.form("leave_out", forms.LeaveOutForm, data)
        if form.is_valid():
            pk = form.cleaned_data["fill"]
            fill = get_object_or_404(queries.fills_of(self.subject), pk=pk)
            with doors.refusals(form, "reason"):
                services.leave_out(fill, reason=form.cleaned_data["reason"])
                return f"Vessel {fill.number} is left out; it stays on record."
        return None

    def label(self):
        return declared_of(self.version)[0] if self.version else None

    def markets(self) -> list[str]:
        return queries.markets_with_rules(self.version, self.workshop)

    def context(self) -> dict:
        fills = list(queries.fills_of(self.subject).select_related("scale"))
        standing = queries.standing_fills(self.subject)
        counting = {fill.pk for fill in standing}
        scale = next((fill.scale for fill in reversed(fills) if fill.scale), None)
        declared = self.label()
        units = self.workshop.units
        leaning = None
        if scale is not None:
            check = queries.newest_check_of(scale, by_day=self.on)
            leaning = queries.leaning(scale, check, on=self.on)
        return {
            "subject": self.subject,
            "version": self.version,
            "fills": [(fill, fill.pk in counting) for fill in fills],
            "standing": standing,
            "half_weighed": sum(fill.net_mg is None for fill in fills),
            "declared": declared,
            "pictures": show.pictures_of(
                standing, declared=declared, markets=self.markets(), units=units, on=self.on
            ),
            "leaning": leaning,
            "scale": scale,
            "column_form": self.form(
                "column", forms.ColumnForm, initial={"by": self.workshop.maker, "scale": scale}
            ),
            "leave_out_form": self.form("leave_out", forms.LeaveOutForm),
        }


class LotPage(LogPage):
    """The same of a lot, with its net checks."""

    def __init__(self, request, subject: Lot) -> None:
        pk = design_version_ids([subject.pk])[subject.pk]
        version = (
            DesignVersion.objects.select_related("design", "formula_version").get(pk=pk)
            if pk
            else None
        )
        super().__init__(request, subject, version)
        self.size = queries.lot_size(subject)

    def label(self):
        found = queries.label_of(self.subject, self.version)
        return found.declared if found else None

    def _stamp(self) -> dict:
        return {"on": self.on, "at": doors.now()}

    def do_check(self, data):
        form = self.form("check", forms.CheckForm, data)
        if not form.is_valid():
            return None
        with doors.refusals(form):
            made = services.check_lot(
                self.subject, version=self.version, workshop=self.workshop, **form.cleaned_data,
                **self._stamp(),
            )  # fmt: skip
            short = [check.rule for check in made if check.verdict == NetCheck.Answer.FAIL]
            if short:
                return f"Kept. The lot is short under {', '.join(short)}."
            if not all(check.passed for check in made):
                return "Kept. A second sample is wanted: weigh more."
            return "Kept: the net contents passed."
        return None

    def do_rework(self, data):
        form = self.form("rework", forms.ReworkForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.rework(self.subject, **form.cleaned_data, at=doors.now())
                return "On record. Weigh the lot anew, then check it."
        return None

    def do_relabel(self, data):
        form = self.form("relabel", forms.RelabelForm, data)
        if form.is_valid():
            with doors.refusals(form):
                services.relabel(
                    self.subject, version=self.version, workshop=self.workshop,
                    **form.cleaned_data, **self._stamp(),
                )  # fmt: skip
                return f"The lot’s label now says {form.cleaned_data['declared']}; that is true."
        return None

    def context(self) -> dict:
        base = super().context()
        label = queries.label_of(self.subject, self.version)
        asked, problems = show.markets_of(
            self.markets(), declared=base["declared"], lot_size=self.size, scale=base["scale"],
            units=self.workshop.units, on=self.on,
        )  # fmt: skip
        checks = list(NetCheck.objects.filter(lot=self.subject).order_by("-id"))
        newest = queries.newest_checks(self.subject)
        maker = {"by": self.workshop.maker}
        sized = {"lot_size": self.size, **maker}
        return base | {
            "lot": self.subject,
            "label": label,
            "lot_size": self.size,
            "asked": asked,
            "problems": problems,
            "now": self._now(base["standing"], base["declared"]),
            "newest": list(newest.values()),
            "older": [check for check in checks if check.pk not in {c.pk for c in newest.values()}],
            "short": any(check.verdict == NetCheck.Answer.FAIL for check in newest.values()),
            "reworks": list(self.subject.reworks.order_by("-id")),
            "check_form": self.form("check", forms.CheckForm, initial=sized),
            "rework_form": self.form("rework", forms.ReworkForm, initial=maker),
            "relabel_form": self.form("relabel", forms.RelabelForm, initial=sized),
        }

    def _now(self, standing, declared) -> list[show.Asked]:
        """Return what the fills so far would say, rule by rule; nothing is kept of it."""
        if declared is None:
            return []
        found = []
        for market in self.markets():
            name = show.RULE_NAMES[market]
            try:
                verdict = check_net(
                    market=market, declared=as_checked(declared, market),
                    nets_g=queries.grams(standing), lot_size=self.size, on=self.on,
                )  # fmt: skip
            except BadInput as problem:
                found.append(show.Asked(name=name, verdict=None, problem=str(problem)))
            else:
                found.append(show.Asked(name=name, verdict=verdict))
        return found


# --- the bench -----------------------------------------------------------------------------------


def lot_bench(request, code):
    found = get_object_or_404(Lot, code=code, item__kind=Kind.CANDLE)
    return _bench(request, found, title=f"Lot {code}", back=reverse("contents:lot", args=[code]))


def filling_bench(request, pk):
    found = get_object_or_404(
        Filling.objects.select_related("pitcher__pour", "design_version__design", "lot"), pk=pk
    )
    if found.lot is not None:
        return redirect("contents:lot_bench", code=found.lot.code)
    title = f"{found.design_version.design.name}, pour {found.pitcher.pour.number}"
    return _bench(request, found, title=title, back=reverse("contents:filling", args=[pk]))


def _bench(request, subject, *, title: str, back: str):
    """One weight at a time: empty vessels, then the same ones filled, or net weights alone."""
    fills = list(queries.fills_of(subject))
    waiting = [fill for fill in fills if fill.net_mg is None and not fill.left_out]
    mode = request.GET.get("mode") or ("full" if waiting else "empty")
    if mode not in BENCH_MODES or (mode == "full" and not waiting):
        mode = "empty"
    target = waiting[0] if mode == "full" else None
    number = target.number if target else len(fills) + 1
    label = {"empty": "Empty, wick and tab in it", "full": "Filled and set", "net": "Net weight"}
    scale = next((fill.scale_id for fill in reversed(fills) if fill.scale_id), None)
    form = forms.OneWeightForm(
        request.POST or None, workshop=request.workshop, label=label[mode],
        initial={"scale": scale},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        about = {"by": request.workshop.maker, "at": doors.now(), "scale": given["scale"]}
        with doors.refusals(form, "weight_mg"):
            if target is not None:
                services.fill_later(target, full_mg=given["weight_mg"], **about)
            else:
                key = "empty_mg" if mode == "empty" else "net_mg"
                services.log_fills(
                    subject, [Weighed(**{key: given["weight_mg"]})],
                    client_id=given["client_id"], **about,
                )  # fmt: skip
            doors.say(request, f"Vessel {number} is entered.")
            return redirect(f"{request.path}?mode={mode}")
    return render(
        request,
        "contents/bench.html",
        {
            "form": form, "mode": mode, "number": number, "title": title, "back": back,
            "waiting": len(waiting), "last": fills[-3:][::-1],
            "modes": [("empty", "Empty"), ("full", f"Filled ({len(waiting)})"), ("net", "Net")],
        },
        status=422 if form.errors else 200,
    )  # fmt: skip


# --- the fill to aim at --------------------------------------------------------------------------


def target(request, pk):
    """Advise on the fill weight of a design, from the spread of its own past fills."""
    # Statistics take most of a second to load: only this page asks for them.
    from pourwright.workshop.contents.advice import advice_of, start_of

    design = get_object_or_404(Design, pk=pk)
    past = queries.past_fills(design)
    start = start_of(design, past, workshop=request.workshop, on=doors.today())
    asked = "declared" in request.GET
    form = forms.TargetForm(
        request.GET if asked else None, workshop=request.workshop, initial=start
    )
    advice = []
    if asked and form.is_valid():
        with doors.refusals(form):
            advice = advice_of(
                design, form.cleaned_data, workshop=request.workshop, on=doors.today()
            )
    return render(
        request,
        "contents/target.html",
        {"design": design, "past": past, "form": form, "advice": advice, "asked": asked},
    )


# --- instruments ---------------------------------------------------------------------------------


def new_instrument(request):
    form = forms.InstrumentForm(request.POST or None, workshop=request.workshop)
    if request.method == "POST" and form.is_valid():
        with doors.refusals(form):
            made = services.keep_instrument(form.save(commit=False))
            doors.say(request, f"{made} is kept; enter its first check.")
            return redirect("contents:instrument", pk=made.pk)
    return render(request, "contents/new_instrument.html", {"form": form})


def instrument(request, pk):
    """Show an instrument with its checks; a POST enters a check, or describes it anew."""
    found = get_object_or_404(Instrument, pk=pk)
    on = doors.today()
    kind = forms.ScaleCheckForm if found.is_scale else forms.ThermometerCheckForm
    do = request.POST.get("do", "") if request.method == "POST" else ""
    check_form = kind(
        request.POST if do == "check" else None, workshop=request.workshop,
        initial={"on": on, "by": request.workshop.maker},
    )  # fmt: skip
    about_form = forms.InstrumentForm(
        request.POST if do == "describe" else None, workshop=request.workshop,
        instance=Instrument.objects.get(pk=pk), prefix="about",
    )  # fmt: skip
    if do == "check" and check_form.is_valid():
        enter = services.check_scale if found.is_scale else services.check_thermometer
        with doors.refusals(check_form):
            made = enter(found, **check_form.cleaned_data, at=doors.now())
            doors.say(request, "Within what is allowed." if made.passed else "Out of tolerance.")
            return redirect("contents:instrument", pk=pk)
    if do == "describe" and about_form.is_valid():
        with doors.refusals(about_form):
            services.keep_instrument(about_form.save(commit=False))
            doors.say(request, "Kept.")
            return redirect("contents:instrument", pk=pk)
    check = queries.newest_check_of(found, by_day=on)
    return render(
        request,
        "contents/instrument.html",
        {
            "instrument": found,
            "leaning": queries.leaning(found, check, on=on),
            "checks": page_of(request, found.checks.all(), size=25),
            "check_form": check_form,
            "about_form": about_form,
        },
    )
