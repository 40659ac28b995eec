"""Settings, all from the environment. Odd values stop the start with a sentence that says what to mend.

Two ways to run: with nothing set, everything is embedded under var/ (a first look, the tests); with
DATABASE_URL set it is a real service, and SECRET_KEY and ALLOWED_HOSTS become required.
"""

import os
import sys
from pathlib import Path

import environ
from django.core.exceptions import ImproperlyConfigured

from config import embedded, log_settings, secrets_from_files
from config.api_settings import API_APPS, REST_FRAMEWORK, SPECTACULAR_SETTINGS  # noqa: F401
from config.from_environment import contact, database_at, program_name, whole_number, yes_or_no
from config.header_settings import *  # noqa: F403
from config.own_secret import own_secret
from config.sign_in_settings import *  # noqa: F403

BASE_DIR = Path(__file__).resolve().parent.parent
VAR = Path(os.environ.get("RECOUNT_VAR", BASE_DIR / "var"))

env = environ.Env()
secrets_from_files.take_in()


def _testing() -> bool:
    """Whether this is a test run. It weakens passwords and hosts, so nothing that serves may be one."""
    if not yes_or_no("RECOUNT_TEST", default=False):
        return False
    by_hand = Path(sys.argv[0]).name == "manage.py" and not {"runserver", "demo"} & set(sys.argv[1:2])
    database = os.environ.get("DATABASE_URL", "").partition("?")[0].rpartition("/")[2]
    if "pytest" in sys.modules or by_hand or database.startswith("test_"):
        return True
    raise ImproperlyConfigured(
        "RECOUNT_TEST is set, and this is no test. Unset it: it weakens the passwords."
    )


TESTING = _testing()
SERVED = bool(os.environ.get("DATABASE_URL")) and not TESTING  # a real service, not a first look
DEBUG = yes_or_no("DEBUG", default=False)

if SERVED:
    secrets_from_files.refuse_placeholders()
    SECRET_KEY = os.environ.get("SECRET_KEY", "")
    if len(SECRET_KEY) < 50 or len(set(SECRET_KEY)) < 5:
        raise ImproperlyConfigured("SECRET_KEY must be set to 50 or more random characters.")
    ALLOWED_HOSTS = [host.strip() for host in os.environ.get("ALLOWED_HOSTS", "").split(",") if host.strip()]
    if not ALLOWED_HOSTS:
        raise ImproperlyConfigured(
            "ALLOWED_HOSTS must name the host of the site, such as recount.example.org."
        )
    if any("*" in host or host.startswith(".") for host in ALLOWED_HOSTS):
        # Links in mails would go wherever a forged request says.
        raise ImproperlyConfigured(
            "ALLOWED_HOSTS must name whole hosts, without * and without a dot in front."
        )
else:
    SECRET_KEY = os.environ.get("SECRET_KEY") or own_secret(VAR)
    ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", *(["testserver"] if TESTING else [])]
SECRET_KEY_FALLBACKS = os.environ.get("SECRET_KEY_FALLBACKS", "").split()  # what they signed still holds
SITE_URL = os.environ.get("SITE_URL") or (
    f"https://{ALLOWED_HOSTS[0]}" if SERVED else f"http://127.0.0.1:{os.environ.get('PORT', '8000')}"
)
CSRF_TRUSTED_ORIGINS = [SITE_URL] if SITE_URL.startswith("https://") else []

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.postgres",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "pgtrigger",
    "pghistory",
    "django_filters",
    *API_APPS,
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "csp",
    "config.apps.ConfigChecks",
    "apiaries.apps.Apiaries",
    "counts.apps.Counts",
    "treatments.apps.Treatments",
    "reports.apps.Reports",
]

MIDDLEWARE = [
    "config.request_log.logged",
    # Before all that may answer by itself: redirects, unknown hosts and static files carry these headers too.
    "config.middleware.every_answer",
    "csp.middleware.CSPMiddleware",
    "config.middleware.programs_ask_over_tls",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    # Padded at random, and forms mask their token anew in each answer: lengths tell nothing (BREACH).
    "django.middleware.gzip.GZipMiddleware",
    "config.middleware.private_pages",
    "config.probes.answered_early",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "config.middleware.bounded",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "config.middleware.KnowsWhoAsks",
    "config.middleware.over_in_time",
    "config.middleware.tells_who_reads",
    "config.middleware.own_language",
    "reports.replica.remember_writes",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "config.middleware.SecondStepFirst",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "apiaries.context.site",
            ],
            "builtins": ["django.templatetags.i18n"],  # every template has sentences
        },
    },
]

DATABASES = {
    "default": database_at(
        embedded.database_url(VAR, testing=TESTING),
        name="DATABASE_URL",
        application_name=f"recount {program_name(sys.argv[0])}",
    )
    | {
        "CONN_MAX_AGE": 60,
        "CONN_HEALTH_CHECKS": True,
        "ATOMIC_REQUESTS": False,
        # Behind a pooler in transaction mode the next part of a cursor's rows would be asked of another session.
        "DISABLE_SERVER_SIDE_CURSORS": yes_or_no("DATABASE_POOLED", default=False),
    }
}
if os.environ.get("REPLICA_DATABASE_URL"):
    DATABASES["replica"] = database_at(
        os.environ["REPLICA_DATABASE_URL"],
        name="REPLICA_DATABASE_URL",
        application_name="recount region pages",
        connect_timeout=2,  # a page waits no longer, and is then drawn from the primary
        options="-c default_transaction_read_only=on",
    ) | {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    DATABASE_ROUTERS = ["reports.replica.Router"]

# Rate limits must be counted once for all processes, so the cache is shared (a table, unless CACHE_URL says else).
CACHES = {
    "default": env.cache_url("CACHE_URL")
    if os.environ.get("CACHE_URL")
    else {
        "BACKEND": "config.shared_cache.SharedCache",
        "LOCATION": "config_cache",
        # Past so many rows it drops a third of them, by their names: at Django's 300, also counters that still hold,
        # and who guesses passwords could make that happen. `sweep` takes out what has run out.
        "OPTIONS": {"MAX_ENTRIES": 1_000_000},
    },
    # Packed pages that a process keeps for itself: some 40 kB each (apiaries.kept_pages).
    "process": {
        "BACKEND": "config.shared_cache.OwnCache",
        "OPTIONS": {"MAX_ENTRIES": 300},
    },
}

AUTH_USER_MODEL = "apiaries.Person"
AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "apiaries.password_words.WordsOfThisPlace"},
]
PASSWORD_HASHERS = (
    ["django.contrib.auth.hashers.MD5PasswordHasher"]
    if TESTING
    else ["django.contrib.auth.hashers.PBKDF2PasswordHasher"]
)

ALLAUTH_TRUSTED_PROXY_COUNT = whole_number("TRUSTED_PROXIES", default=0, low=0, high=5)

# Of those whose role sees what is not theirs; off in a first look, whose invented people have no phones.
REQUIRE_SECOND_STEP = yes_or_no("REQUIRE_SECOND_STEP", default=SERVED)

SESSION_ENGINE = "apiaries.sessions"
SESSION_COOKIE_HTTPONLY = True  # the token's is read by scripts of kept pages, whose written one may be old
SESSION_COOKIE_AGE = 60 * 60 * 24 * 30
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SERVED
if SERVED:
    SESSION_COOKIE_NAME = "__Host-recount"
    CSRF_COOKIE_NAME = "__Host-recount-csrf"
    LANGUAGE_COOKIE_NAME = "__Host-recount-language"
    MESSAGE_STORAGE = "config.message_cookie.HostMessages"
    SECURE_SSL_REDIRECT = yes_or_no("REDIRECT_TO_HTTPS", default=True)
    SECURE_HSTS_SECONDS = 60 * 60 * 24 * 365
    SECURE_HSTS_INCLUDE_SUBDOMAINS = True
    SECURE_HSTS_PRELOAD = yes_or_no("HSTS_PRELOAD", default=False)
    SILENCED_SYSTEM_CHECKS = ["security.W021"]  # the browsers' list is for the owner of the domain to choose
    if ALLAUTH_TRUSTED_PROXY_COUNT:
        SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_REDIRECT_EXEMPT = ["^livez$", "^readyz$", "^metrics$"]  # asked at the host's own address, without TLS

LANGUAGE_CODE = "en-gb"
LANGUAGES = [("en-gb", "English"), ("de", "Deutsch")]  # each by its own name, so that its speakers find it
LOCALE_PATHS = [BASE_DIR / "config" / "locale"]
LANGUAGE_COOKIE_SECURE = SERVED
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SAMESITE = "Lax"
TIME_ZONE = "UTC"
USE_TZ = USE_I18N = True

STATIC_URL = "static/"
STATIC_ROOT = VAR / "static"
WHITENOISE_ALLOW_ALL_ORIGINS = False  # no other site needs our files
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if TESTING or DEBUG
        else "config.static_files.PackedFiles"
    },
}
DATA_UPLOAD_MAX_NUMBER_FIELDS = 4_000  # three for each colony of a big yard on one page
DATA_UPLOAD_MAX_MEMORY_SIZE = FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# Mail goes to files under var/mail unless EMAIL_URL names a server.
if os.environ.get("EMAIL_URL"):
    vars().update(env.email_url("EMAIL_URL"))
else:
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    EMAIL_FILE_PATH = VAR / "mail"
EMAIL_TIMEOUT = 30
DEFAULT_FROM_EMAIL = SERVER_EMAIL = os.environ.get("MAIL_FROM") or "Recount <recount@localhost>"

SECURITY_CONTACT = contact(os.environ.get("SECURITY_CONTACT", ""))
ERASURE_JOURNAL = Path(os.environ.get("RECOUNT_ERASURE_JOURNAL") or VAR / "erasure_journal.jsonl")
FIXTURES = BASE_DIR / "fixtures"

# The newest first; none: seeds are kept in plain text.
SECOND_STEP_KEYS = tuple(os.environ.get("SECOND_STEP_KEY", "").split())
if any(
    len(key) < 50 or len(set(key)) < 5 or key in (SECRET_KEY, *SECRET_KEY_FALLBACKS)
    for key in SECOND_STEP_KEYS
):
    raise ImproperlyConfigured(
        "SECOND_STEP_KEY must be 50 or more random characters, none that was ever SECRET_KEY, or unset."
    )
METRICS_TOKEN = os.environ.get("METRICS_TOKEN", "").strip()  # without it there is nothing at /metrics
if 0 < len(METRICS_TOKEN) < 20:
    raise ImproperlyConfigured("METRICS_TOKEN must be 20 or more random characters, or unset.")
LOGGING = log_settings.logging_settings(served=SERVED)
