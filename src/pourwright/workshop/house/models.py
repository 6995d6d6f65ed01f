"""The workshop itself: its name, its habits, and the numbers it gives to things."""

from decimal import Decimal

from django.db import models, transaction
from django.db.models import F


class Units(models.TextChoices):
    METRIC = "metric", "metric: grams, millilitres, °C"
    US = "us", "US customary: ounces, fluid ounces, °F"


class Workshop(models.Model):
    """The one row of settings. Read it through ``Workshop.load()``."""

    name = models.CharField(max_length=80, default="My workshop")
    maker = models.CharField("maker's name", max_length=80, blank=True)
    address = models.TextField(blank=True)
    units = models.CharField(max_length=6, choices=Units, default=Units.METRIC)
    currency = models.CharField(max_length=3, default="USD")
    time_zone = models.CharField(max_length=64, blank=True, help_text="Empty: this machine's own.")
    scale_division_mg = models.PositiveBigIntegerField(default=100)
    loss_pct = models.DecimalField(max_digits=5, decimal_places=2, default=Decimal("1.5"))
    labour_rate_minor100 = models.PositiveBigIntegerField(
        default=0, help_text="What an hour of work costs."
    )
    overhead_pct = models.DecimalField(
        max_digits=6,
        decimal_places=2,
        default=Decimal(0),
        help_text="Rent, power, insurance and the like, as per cent of materials and labour.",
    )
    cure_days = models.PositiveSmallIntegerField(default=14)
    sheet_old_months = models.PositiveSmallIntegerField(
        "safety sheets count as old after", default=36, help_text="Months since the sheet's date."
    )
    markets = models.CharField(max_length=40, default="us", help_text="us, eu, gb; comma between")
    # What a unique formula identifier is made with: a VAT number, or else a key of the maker's own.
    vat_country = models.CharField("country of the VAT number", max_length=2, blank=True)
    vat_number = models.CharField("VAT number", max_length=20, blank=True)
    company_key = models.PositiveBigIntegerField(
        "company key", null=True, blank=True, help_text="Where there is no VAT number."
    )
    # What a label says of its maker; the free address above stands on papers.
    legal_name = models.CharField("name on labels", max_length=120, blank=True)
    street = models.CharField(max_length=120, blank=True)
    place = models.CharField("town, state, post code", max_length=120, blank=True)
    country = models.CharField(max_length=2, blank=True)
    telephone = models.CharField(max_length=40, blank=True)
    electronic = models.CharField("e-mail or web address", max_length=120, blank=True)
    made_for = models.BooleanField("made for us by somebody else", default=False)
    eu_name = models.CharField("responsible person in the EU", max_length=120, blank=True)
    eu_street = models.CharField("their street", max_length=120, blank=True)
    eu_place = models.CharField("their town and post code", max_length=120, blank=True)
    eu_country = models.CharField("their country", max_length=2, blank=True)
    eu_electronic = models.CharField("their e-mail or web address", max_length=120, blank=True)
    is_demo = models.BooleanField(default=False, editable=False)

    def __str__(self) -> str:
        return self.name

    @classmethod
    def load(cls) -> "Workshop":
        found = cls.objects.first()
        return found or cls(pk=1)

    @property
    def market_list(self) -> list[str]:
        return [market.strip() for market in self.markets.split(",") if market.strip()]


class JobState(models.TextChoices):
    WAITING = "waiting", "waiting"
    RUNNING = "running", "at work"
    DONE = "done", "done"
    STOPPED = "stopped", "stopped"
    FAILED = "failed", "failed"


class Job(models.Model):
    """
    A long computation that a process of its own does (house/jobs.py says how to use it).

    ``key`` is a hash of kind and arguments: the same question is not worked out twice.
    ``share`` and ``words`` say how far it is; ``result`` is the best so far until it is done.
    ``seen_at`` is when its worker last gave a sign, by which a worker that died is known.
    """

    kind = models.CharField(max_length=40)
    args = models.JSONField(default=dict)
    key = models.CharField(max_length=64, db_index=True)
    state = models.CharField(max_length=8, choices=JobState, default=JobState.WAITING)
    share = models.FloatField(default=0)
    words = models.CharField("how far it is", max_length=200, blank=True)
    result = models.JSONField(null=True, blank=True)
    problem = models.CharField("why it stopped or failed", max_length=400, blank=True)
    stop_asked = models.BooleanField(default=False)
    where = models.CharField("the page that shows its result", max_length=300, blank=True)
    starts = models.PositiveSmallIntegerField("workers started for it", default=0)
    asked_at = models.DateTimeField()
    started_at = models.DateTimeField("a worker was started", null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        indexes = [models.Index(fields=["state", "id"], name="job_by_state")]

    def __str__(self) -> str:
        return f"{self.kind} {self.state}"

    @property
    def over(self) -> bool:
        return self.state in (JobState.DONE, JobState.STOPPED, JobState.FAILED)

    @property
    def percent(self) -> int:
        return round(100 * min(max(self.share, 0.0), 1.0))


class Counter(models.Model):
    """The last number given under a prefix, so that no two things ever share one."""

    prefix = models.CharField(max_length=8, primary_key=True)
    last = models.PositiveBigIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.prefix}-{self.last:04d}"


def next_number(prefix: str) -> str:
    """Return the next number under ``prefix``, such as ``L-0042``; call inside a transaction."""
    with transaction.atomic(savepoint=False):
        # The update locks the row, so that the number read after it is this transaction's own.
        mine = Counter.objects.filter(prefix=prefix)
        if not mine.update(last=F("last") + 1):
            Counter.objects.get_or_create(prefix=prefix)
            mine.update(last=F("last") + 1)
        return str(mine.get())
