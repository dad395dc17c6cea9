"""Settings, read from the environment in this one place; what is not known is refused.

SECRET_KEY, DEBUG (1 or 0), DATABASE_URL, ALLOWED_HOSTS (comma separated), TAREBOOK_HTTPS (1 or 0: the pages are served
over https), TAREBOOK_AUTHORITY (the certificate of the machine's own authority, where the server speaks https itself),
TAREBOOK_ADDRESS (where people reach the pages, as labels bear it) and TAREBOOK_MEDIA (folder for photos). Mail has the
names that Django gives it: EMAIL_HOST and those beside it.
"""

import os
import sys
from pathlib import Path

import dj_database_url
from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key

BASE_DIR = Path(__file__).resolve().parent.parent


def _switch(name: str, default: str) -> bool:
    """Return the 1 or 0 of an environment variable; anything else stops the start."""
    value = os.environ.get(name, default)
    if value not in ("0", "1"):
        raise ImproperlyConfigured(f"{name} is {value!r}; it must be 1 or 0.")
    return value == "1"


def _whole(name: str, default: str) -> int:
    """Return the whole number of an environment variable; anything else stops the start."""
    value = os.environ.get(name, default)
    if not (value.isascii() and value.isdecimal()):
        raise ImproperlyConfigured(f"{name} is {value!r}; it must be a whole number.")
    return int(value)


DEBUG = _switch("DEBUG", "0")
HTTPS = _switch("TAREBOOK_HTTPS", "0")
AUTHORITY = os.environ.get("TAREBOOK_AUTHORITY", "")  # its file; no front server stands before this one then
if AUTHORITY and not HTTPS:
    raise ImproperlyConfigured("TAREBOOK_AUTHORITY names an authority for https, but TAREBOOK_HTTPS is not 1.")
TESTING = "pytest" in sys.modules

# Commands that serve nobody may run without a key of their own; a server may not.
_SERVES = any(word in sys.argv[0] for word in ("gunicorn",)) or "runserver" in sys.argv
SECRET_KEY = os.environ.get("SECRET_KEY", "")
if not SECRET_KEY:
    if _SERVES and not DEBUG:
        raise ImproperlyConfigured("SECRET_KEY is not set: give a long random one in the environment.")
    SECRET_KEY = get_random_secret_key()

ALLOWED_HOSTS = [host for host in os.environ.get("ALLOWED_HOSTS", "localhost,127.0.0.1,[::1]").split(",") if host]

# What a label bears stays on its cylinder for years, so it is not left to the name that somebody happened to ask for.
ADDRESS = os.environ.get("TAREBOOK_ADDRESS", "").rstrip("/")
if ADDRESS and ADDRESS.partition("://")[0] not in ("http", "https"):
    raise ImproperlyConfigured("TAREBOOK_ADDRESS must begin with http or https, as in the line of a browser.")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django_htmx",
    "django_tables2",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "axes",
    "inventory",
    "shop",
    "compliance",
]

MIDDLEWARE = [
    "shop.pages.observing.ObservingMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "shop.pages.middleware.PolicyMiddleware",
    "shop.pages.refusing.ReadableMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    "shop.pages.middleware.WorkshopMiddleware",
]

ROOT_URLCONF = "shop.urls"
WSGI_APPLICATION = "shop.wsgi.application"
AUTH_USER_MODEL = "shop.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",  # of books from before; each is kept anew at its next sign-in
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign-in"

# Throttled sign-in: ten wrong tries for one name from one address wait a quarter of an hour; `tries` sums up the rest.
AXES_FAILURE_LIMIT = 10
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_LOCKOUT_TEMPLATE = "shop/locked_out.html"
AXES_CLIENT_IP_CALLABLE = "shop.people.tries.address_of"
AXES_VERBOSE = False
AXES_ENABLE_ADMIN = False

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "shop.pages.middleware.page_context",
            ],
        },
    },
]


WRONG_DATABASE = "DATABASE_URL must begin with sqlite:/// or postgres://."


def _database() -> dict[str, object]:
    url = os.environ.get("DATABASE_URL") or f"sqlite:///{BASE_DIR / 'tarebook.sqlite3'}"
    try:
        config: dict[str, object] = dict(dj_database_url.parse(url, conn_max_age=60, conn_health_checks=True))
    except (dj_database_url.ParseError, dj_database_url.UnknownSchemeError) as error:
        raise ImproperlyConfigured(WRONG_DATABASE) from error
    engine = str(config["ENGINE"])
    if engine.endswith("sqlite3"):
        name = Path(str(config["NAME"]))
        config["NAME"] = str(name if name.is_absolute() else BASE_DIR / name)
        config["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",  # atomic() takes the write lock before its first read
            "timeout": 30,  # seconds that a second writer waits
            "init_command": (
                "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;PRAGMA recursive_triggers=ON; PRAGMA foreign_keys=ON"
            ),
        }
    elif not engine.endswith("postgresql"):
        raise ImproperlyConfigured(WRONG_DATABASE)
    return config


DATABASES = {"default": _database()}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

CACHES = {"default": {"BACKEND": "django.core.cache.backends.locmem.LocMemCache", "OPTIONS": {"MAX_ENTRIES": 10_000}}}

# What enciphers the keys that sign papers; without it the files alone guard them.
PAPER_PASSPHRASE = os.environ.get("TAREBOOK_PAPER_PASSPHRASE", "").encode()
PAPER_KEYS: Path | None = None  # they lie beside the database; a test says where else

LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "static/"
WHITENOISE_USE_FINDERS = True  # files are served from where they lie: nothing to collect, nothing to forget
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
MEDIA_ROOT = Path(os.environ.get("TAREBOOK_MEDIA", BASE_DIR / (".cache/media" if TESTING else "media")))

# Mail goes out where a server is named; with EMAIL_FILE_PATH each mail is put in that folder instead.
EMAIL_HOST = os.environ.get("EMAIL_HOST", "")
EMAIL_PORT = _whole("EMAIL_PORT", "25")
EMAIL_HOST_USER = os.environ.get("EMAIL_HOST_USER", "")
EMAIL_HOST_PASSWORD = os.environ.get("EMAIL_HOST_PASSWORD", "")
EMAIL_USE_TLS, EMAIL_USE_SSL = _switch("EMAIL_USE_TLS", "0"), _switch("EMAIL_USE_SSL", "0")
if EMAIL_USE_TLS and EMAIL_USE_SSL:
    raise ImproperlyConfigured("EMAIL_USE_TLS and EMAIL_USE_SSL are both 1: a mail server speaks one of them.")
EMAIL_TIMEOUT = 20  # seconds that a mail server may take to answer
DEFAULT_FROM_EMAIL = os.environ.get("DEFAULT_FROM_EMAIL", "") or EMAIL_HOST_USER or "tarebook@localhost"
if EMAIL_FILE_PATH := os.environ.get("EMAIL_FILE_PATH", ""):
    EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"

SESSION_COOKIE_AGE = 12 * 3600  # a working day
CSRF_COOKIE_HTTPONLY = True  # the script takes the token from the page
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = HTTPS
if (
    HTTPS
):  # a browser lets no page without https replace a cookie of one with it: a later start without gets names of its own
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
# An address with an authority of its own may be served without https another day: no browser is to remember that it
# never is. Who speaks https itself knows it from the connection, and believes nobody who only says so.
BEHIND_FRONT = HTTPS and not AUTHORITY
SECURE_HSTS_SECONDS = 31_536_000 if BEHIND_FRONT else 0
SECURE_SSL_REDIRECT = False  # the front server does it; it says so by this header
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_FRONT else None
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
CSRF_TRUSTED_ORIGINS = [f"https://{host}" for host in ALLOWED_HOSTS] if HTTPS else []

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'none'"],
        "script-src": ["'self'"],
        "style-src": ["'self'"],
        "img-src": ["'self'"],
        "connect-src": ["'self'"],
        "worker-src": ["'self'"],
        "form-action": ["'self'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
    },
}

DJANGO_TABLES2_TEMPLATE = "_table.html"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2_500_000  # what forms hold beside files
# Files have no limit here: the form says how large one may be. A photo, with the place and hour that a phone writes
# into it, is read in memory and never lies on the disk as it came.
FILE_UPLOAD_MAX_MEMORY_SIZE = 12_500_000
# Whether other names below the server's may be reached without https is for whoever runs them to say (W005, W021).
SILENCED_SYSTEM_CHECKS = [f"security.{which}" for which in ("W004", "W005", "W008", "W012", "W016", "W021")]

# A line for each request, as JSON; and who knows this token is told what was counted.
LOG_REQUESTS = _switch("TAREBOOK_LOG", "0")
METRICS_TOKEN = os.environ.get("TAREBOOK_METRICS", "")

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {
        "secret": {"()": "shop.serving.secret.SecretAddresses"},
        "refused": {"()": "shop.serving.secret.RefusedInALine"},
    },
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["refused", "secret"]}},
    "loggers": {"tarebook.requests": {"level": "INFO" if LOG_REQUESTS else "WARNING"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
}
if TESTING:
    WHITENOISE_AUTOREFRESH = True  # a client of a test need not look through all files before its first page
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
