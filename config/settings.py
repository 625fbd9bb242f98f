"""The one settings file. What differs between installations is read from the environment; `.env.example` lists it."""

import secrets
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured

from config import env, logs, strict

BASE_DIR = Path(__file__).resolve().parent.parent
env.load_file(BASE_DIR / ".env")

MODE = env.choice("EBBLINE_MODE", ("embedded", "production"), "embedded")
PRODUCTION = MODE == "production"
# A practice night: invented calls ring, every page says so, and its sign-ins are apart from the real ones.
PRACTICE = env.flag("EBBLINE_PRACTICE", default=False)
if PRACTICE:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "practice_sessionid", "practice_csrftoken"
# A night that is shown: a scenario plays in the web process, and the pages go by its clock.
NIGHT = env.flag("EBBLINE_NIGHT", default=False)
if NIGHT:
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "night_sessionid", "night_csrftoken"
DEBUG = env.flag("EBBLINE_DEBUG", default=False)
DATA_DIR = Path(env.text("EBBLINE_DATA", str(BASE_DIR / "var")))
DATA_DIR.mkdir(parents=True, exist_ok=True)


def _secret_key() -> str:
    """Given in production; made once and kept beside the data otherwise, so that a restart signs nobody out."""
    given = env.secret("EBBLINE_SECRET_KEY")
    if given or PRODUCTION:
        return given
    kept = DATA_DIR / "secret_key"
    if not kept.exists():
        kept.touch(mode=0o600)
        kept.write_text(secrets.token_urlsafe(48), encoding="ascii")
    return kept.read_text(encoding="ascii")


SECRET_KEY = _secret_key()
ALLOWED_HOSTS = env.words("EBBLINE_HOSTS", () if PRODUCTION else ("localhost", "127.0.0.1", "[::1]", "testserver"))
CSRF_TRUSTED_ORIGINS = env.words("EBBLINE_ORIGINS")
# Whose word about the caller's address counts (X-Forwarded-For): the reverse proxies before us.
PROXIES = env.networks("EBBLINE_PROXIES", ("127.0.0.0/8", "::1/128") if PRODUCTION else ())

INSTALLED_APPS = [
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.forms",
    "rest_framework",
    "django_filters",
    "drf_spectacular",
    "drf_spectacular_sidecar",
    "axes",
    "django_htmx",
    "js_lib_leaflet",
    "jobs",
    "equipment",
    "dispatch",
    "config",
]

MIDDLEWARE = [
    "config.requests.RequestLog",
    "django.middleware.security.SecurityMiddleware",
    "config.security.ContentSecurityPolicy",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "config.outbox.OutboxAnswers",
    "config.limits.RequestLimits",
    "config.limits.PageLimits",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.errors.RefusalPages",
    "axes.middleware.AxesMiddleware",
    *(["config.night.NightTime"] if NIGHT else []),
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "config" / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "config.frame.frame",
            ],
        },
    },
]
# Fields are rendered by our own templates/django/forms/field.html: label, hint, field, refusal.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

_EMBEDDED_DATABASE: dict[str, Any] = {
    "ENGINE": "django.db.backends.sqlite3",
    "NAME": DATA_DIR / "ebbline.sqlite3",
    "OPTIONS": {
        # IMMEDIATE takes the write lock at BEGIN; the default mode loses writers to "database is locked".
        "transaction_mode": "IMMEDIATE",
        "timeout": 20,
        "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON",
    },
    # A file, because tests that start child processes cannot share an in-memory database.
    "TEST": {"NAME": DATA_DIR / "test.sqlite3"},
}
DATABASES = {"default": env.database("DATABASE_URL", _EMBEDDED_DATABASE)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Where pg_dump and pg_restore lie; empty: looked for.
PG_BIN = env.text("EBBLINE_PG_BIN")

REDIS_URL = env.secret("REDIS_URL")

if PRODUCTION and (
    _missing := strict.missing(
        secret_key=SECRET_KEY,
        hosts=ALLOWED_HOSTS,
        origins=CSRF_TRUSTED_ORIGINS,
        debug=DEBUG,
        database=DATABASES["default"]["ENGINE"],
        redis_url=REDIS_URL,
    )
):
    raise ImproperlyConfigured("Production mode does not start like this:\n- " + "\n- ".join(_missing))

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{name}"}
    for name in ("UserAttributeSimilarityValidator", "MinimumLengthValidator", "CommonPasswordValidator")
]
AXES_FAILURE_LIMIT = env.whole("EBBLINE_SIGN_IN_TRIES", 10, at_least=3)
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_HANDLER = "config.throttling.ByAccountAndAddress"
AXES_LOCKOUT_CALLABLE = "config.throttling.locked_out"
AXES_CLIENT_IP_CALLABLE = "config.addresses.client_address"
LOGIN_URL = "sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "sign_in"
# A night shift is twelve hours: nobody is signed out in the middle of a call.
SESSION_COOKIE_AGE = 16 * 3600
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = PRODUCTION
SECURE_SSL_REDIRECT = PRODUCTION
# Asked from inside, where no proxy speaks TLS for us.
SECURE_REDIRECT_EXEMPT = [r"^(healthz|livez|metrics)$"]
SECURE_HSTS_SECONDS = 31_536_000 if PRODUCTION else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = SECURE_HSTS_PRELOAD = PRODUCTION
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if PRODUCTION else None
X_FRAME_OPTIONS = "DENY"

LANGUAGE_CODE = "en-us"
USE_I18N = False
USE_TZ = True
# Rooms show times in their area's own zone; this is only where a zone is asked for and no area is known.
TIME_ZONE = "America/Los_Angeles"

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STATICFILES_DIRS = [BASE_DIR / "config" / "static"]
# Served straight from the packages: with DEBUG off and no collectstatic every static file would be missing.
WHITENOISE_USE_FINDERS = True
MEDIA_ROOT = DATA_DIR / "media"
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
# The largest photo that is taken, and what a form has beside it.
LARGEST_REQUEST = 26 * 1024 * 1024

REST_FRAMEWORK = {
    "DEFAULT_AUTHENTICATION_CLASSES": [
        # Basic stands first: it names its scheme, so that a request without a sign-in is answered 401, not 403.
        "config.api_sign_in.BasicSignIn",
        "config.api_sign_in.TokenSignIn",
        "rest_framework.authentication.SessionAuthentication",
    ],
    "DEFAULT_PERMISSION_CLASSES": ["rest_framework.permissions.IsAuthenticated"],
    "DEFAULT_RENDERER_CLASSES": ["rest_framework.renderers.JSONRenderer"],
    "DEFAULT_PARSER_CLASSES": ["jobs.api_parser.StrictJSONParser"],
    "DEFAULT_PAGINATION_CLASS": "rest_framework.pagination.LimitOffsetPagination",
    "PAGE_SIZE": 50,
    "DEFAULT_FILTER_BACKENDS": ["django_filters.rest_framework.DjangoFilterBackend"],
    # A reader chooses by Accept, as the description says; "?format=" would be a second, undescribed way.
    "URL_FORMAT_OVERRIDE": None,
    "DEFAULT_SCHEMA_CLASS": "drf_spectacular.openapi.AutoSchema",
    "EXCEPTION_HANDLER": "config.errors.problem_details",
}
SPECTACULAR_SETTINGS = {
    "TITLE": "Ebbline",
    "DESCRIPTION": "Dispatch desk of a water-damage drying company.",
    "VERSION": "1",
    "OAS_VERSION": "3.1.0",
    "SERVE_INCLUDE_SCHEMA": False,
    "SWAGGER_UI_DIST": "SIDECAR",
    "SWAGGER_UI_FAVICON_HREF": "SIDECAR",
    "REDOC_DIST": "SIDECAR",
    "SCHEMA_PATH_PREFIX": "/api/v1",
    "POSTPROCESSING_HOOKS": [
        "drf_spectacular.hooks.postprocess_schema_enums",
        "config.api_schema.document_common",
    ],
}

# A map without a tile address shows county outlines only; nothing is fetched from outside.
TILE_ADDRESS = env.text("EBBLINE_TILES")
TILE_CREDIT = env.text("EBBLINE_TILES_CREDIT")
# A geopy geocoder's name ("nominatim", "photon", ...); empty: ZIP and town from the offline table only.
GEOCODER = env.text("EBBLINE_GEOCODER")
GEOCODER_DOMAIN = env.text("EBBLINE_GEOCODER_DOMAIN")

# Minutes until the next person on the call-out order is asked (common practice, no source).
CALL_OUT_MINUTES = env.whole("EBBLINE_CALL_OUT_MINUTES", 5, at_least=1)
# Minutes that a hold made while a crew is being chosen stays valid.
HOLD_MINUTES = env.whole("EBBLINE_HOLD_MINUTES", 30, at_least=1)
# Minutes after which the same person is tried once more (0: never), the managers are told that nobody has answered yet,
# and the customer is told the same (common practice, no source).
SECOND_TRY_MINUTES = env.whole("EBBLINE_SECOND_TRY_MINUTES", 3)
MANAGER_TOLD_MINUTES = env.whole("EBBLINE_MANAGER_TOLD_MINUTES", 15, at_least=1)
CUSTOMER_TOLD_MINUTES = env.whole("EBBLINE_CUSTOMER_TOLD_MINUTES", 20, at_least=1)
# How messages leave the house where nothing else is chosen for whoever gets them (dispatch.transports). A company's
# log must not hold them.
NOTICE_WAY = env.choice("EBBLINE_NOTICE_WAY", ("console", "email", "sms"), "sms" if PRODUCTION else "console")
# A function of one dispatch.transports.Message that takes every message instead, whatever its way.
NOTICE_TRANSPORT = env.text("EBBLINE_NOTICE_TRANSPORT")
NOTICE_TRIES = env.whole("EBBLINE_NOTICE_TRIES", 6, at_least=1)
NOTICE_EMAIL_FROM = env.text("EBBLINE_EMAIL_FROM")
NOTICE_EMAIL_DOMAIN = NOTICE_EMAIL_FROM.rpartition("@")[2].strip(" >") or "localhost"
vars().update(env.mail("EBBLINE_EMAIL_SERVER"))
EMAIL_TIMEOUT = 10
SMS_GATEWAY = {
    "address": env.text("EBBLINE_SMS_ADDRESS"),
    "scheme": env.text("EBBLINE_SMS_SCHEME", "Bearer"),
    "secret": env.secret("EBBLINE_SMS_SECRET"),
    "from": env.text("EBBLINE_SMS_FROM"),
    "format": env.choice("EBBLINE_SMS_FORMAT", ("json", "form"), "json"),
    "fields": env.fields("EBBLINE_SMS_FIELDS", "to={to}, text={text}", {"to", "text", "from", "key"}),
    "timeout_s": env.whole("EBBLINE_SMS_TIMEOUT_S", 10, at_least=1),
}
# Where people reach this program from outside: the start of the links in messages. Empty: no links are sent.
ADDRESS = env.text("EBBLINE_ADDRESS", "" if PRODUCTION else "http://localhost:8000").rstrip("/")
# Minutes that the link in a page can be used at most.
ANSWER_LINK_MINUTES = env.whole("EBBLINE_ANSWER_LINK_MINUTES", 60, at_least=1)
# Where tonight's board is written every hour for a night in which the program is down, and how many are kept; 0: none.
BOARD_FOLDER = env.text("EBBLINE_BOARD_FOLDER", str(DATA_DIR / "board"))
BOARD_KEEP = env.whole("EBBLINE_BOARD_KEEP", 24)
# A TOML file with other periods than jobs/retention.toml; empty: those.
RETENTION_FILE = env.text("EBBLINE_RETENTION")
PLAN_SECONDS = env.whole("EBBLINE_PLAN_SECONDS", 10, at_least=1)
# More than 0: a plan whose limit nobody gave ends after so many iterations, and so is the same on every machine.
PLAN_ITERATIONS = env.whole("EBBLINE_PLAN_ITERATIONS", 0)

LOG_FORMAT = env.choice("EBBLINE_LOG_FORMAT", ("plain", "json"), "json" if PRODUCTION else "plain")
LOGGING = logs.configuration(style=LOG_FORMAT, level=env.text("EBBLINE_LOG_LEVEL", "INFO").upper())
# Who may read /metrics: whoever has the token, and whoever asks directly, not through a proxy, from such a network.
METRICS_TOKEN = env.secret("EBBLINE_METRICS_TOKEN")
METRICS_NETWORKS = env.networks("EBBLINE_METRICS_NETWORKS", ("127.0.0.0/8", "::1/128"))
