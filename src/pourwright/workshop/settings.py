"""
Django's settings for one workshop on one machine.

``POURWRIGHT_DATA`` names the folder that holds everything of the maker's: the database, its
backups and the key that signs cookies. ``DATABASE_URL`` points a grown workshop at PostgreSQL.
"""

import os
import secrets
from pathlib import Path

import dj_database_url
from platformdirs import user_data_path

HERE = Path(__file__).resolve().parent
DATA = Path(os.environ.get("POURWRIGHT_DATA") or user_data_path("pourwright", appauthor=False))
DATA.mkdir(parents=True, exist_ok=True)


def _secret_key() -> str:
    """Make the signing key once and keep it beside the data, readable by its owner alone."""
    path = DATA / "secret-key"
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return path.read_text()
    with os.fdopen(descriptor, "w") as file:
        key = secrets.token_urlsafe(50)
        file.write(key)
    return key


SECRET_KEY = _secret_key()
DEBUG = False
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]"]

INSTALLED_APPS = [
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "pourwright.workshop.house",
    "pourwright.workshop.stores",
    "pourwright.workshop.formulas",
    "pourwright.workshop.hazard",
    "pourwright.workshop.designs",
    "pourwright.workshop.gates",
    "pourwright.workshop.pours",
    "pourwright.workshop.contents",
    "pourwright.workshop.labels",
    "pourwright.workshop.shelf",
    "pourwright.workshop.orders",
    "pourwright.workshop.planning",
    "pourwright.workshop.burns",
    "pourwright.workshop.panels",
    "pourwright.workshop.heat",
    "pourwright.workshop.trace",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "pourwright.workshop.policy.content_security_policy",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "pourwright.workshop.house.middleware.workshop",
]

ROOT_URLCONF = "pourwright.workshop.urls"
WSGI_APPLICATION = "pourwright.workshop.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HERE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "pourwright.workshop.house.context.workshop",
            ],
            "builtins": ["pourwright.workshop.house.templatetags.amounts"],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
# No session and so nothing to clean up: a message travels in a signed cookie.
MESSAGE_STORAGE = "django.contrib.messages.storage.cookie.CookieStorage"

SQLITE_OPTIONS = {
    # Without IMMEDIATE a read lock that must become a write lock fails at once under other writers.
    "timeout": 20,
    "transaction_mode": "IMMEDIATE",
    # FULL: a weight that was acknowledged survives a power cut.
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        "PRAGMA cache_size=-65536; PRAGMA mmap_size=268435456; PRAGMA temp_store=MEMORY;"
    ),
}


def databases(data: Path) -> dict:
    """Return the database settings: ``DATABASE_URL`` where set, else one file in ``data``."""
    if url := os.environ.get("DATABASE_URL"):
        return {"default": dj_database_url.parse(url, conn_max_age=600, conn_health_checks=True)}
    return {
        "default": {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": data / "workshop.sqlite3",
            "OPTIONS": SQLITE_OPTIONS,
            "CONN_MAX_AGE": None,
        }
    }


DATABASES = databases(DATA)
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LANGUAGE_CODE = "en-us"
TIME_ZONE = os.environ.get("POURWRIGHT_TIME_ZONE", "UTC")
USE_TZ = True
USE_I18N = False
USE_THOUSAND_SEPARATOR = False

STATIC_URL = "/static/"
STATICFILES_DIRS = [HERE / "static"]
# Static files are few and are read from the package at start; there is no build or collect step.
WHITENOISE_USE_FINDERS = True
WHITENOISE_AUTOREFRESH = False
WHITENOISE_MAX_AGE = 3600

SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
SESSION_COOKIE_HTTPONLY = True
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Strict"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
# A composition of 400 substances, each with its boxes and ticks.
DATA_UPLOAD_MAX_NUMBER_FIELDS = 8000

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "handlers": {"console": {"class": "logging.StreamHandler"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    "loggers": {"waitress.queue": {"level": "ERROR"}},
}
