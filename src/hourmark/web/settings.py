"""Django's settings for the pages, on top of those of the store."""

import secrets
from pathlib import Path
from typing import Any

from csp.constants import NONE, SELF

from hourmark.store.django_settings import DATABASES, DEFAULT_AUTO_FIELD, LOGGING_CONFIG, SETTINGS, TIME_ZONE, USE_TZ

_HERE = Path(__file__).parent
_LOCAL = SETTINGS.hosts == ("localhost",)
"""On this machine alone there is no certificate: the browser treats http://localhost as safe, and so do passkeys."""
_INVENTED = "-drill" if SETTINGS.drill else "-demo" if SETTINGS.demo else ""
"""A browser keeps cookies by the machine's name alone, whatever the port: a drill beside the clinic's pages has names of its own for them."""

SECRET_KEY = SETTINGS.secret_key or secrets.token_urlsafe(64)
ALLOWED_HOSTS = list(SETTINGS.hosts)
DEBUG = False
ROOT_URLCONF = "hourmark.web.urls"
WSGI_APPLICATION = "hourmark.web.wsgi.application"
LANGUAGE_CODE = "en"
USE_I18N = True
SITE_NAME = "hourmark"

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.humanize",  # the list of passkeys needs it
    "django.contrib.staticfiles",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "csp",
    "django_htmx",
    "hourmark.store",
    "hourmark.web",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "allauth.usersessions.middleware.UserSessionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "hourmark.web.guard.signed_in",
]
TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [_HERE / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    ["django.template.loaders.filesystem.Loader", "django.template.loaders.app_directories.Loader"],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "hourmark.web.guard.everywhere",
            ],
            "builtins": ["hourmark.web.said", "hourmark.web.pages.phone_words", "hourmark.web.drilling"],
        },
    }
]

STATIC_URL = "static/"
STATICFILES_DIRS = [_HERE / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
WHITENOISE_USE_FINDERS = True  # few and small files: none has to be collected first
WHITENOISE_MAX_AGE = 3600

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"  # without any, a form has no origin to be trusted by
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SECURE_SSL_REDIRECT = not _LOCAL
SECURE_HSTS_SECONDS = 0 if _LOCAL else 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = not _LOCAL
SECURE_HSTS_PRELOAD = not _LOCAL
SECURE_PROXY_SSL_HEADER = None if _LOCAL else ("HTTP_X_FORWARDED_PROTO", "https")
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not _LOCAL
COOKIES = f"{'' if _LOCAL else '__Host-'}hourmark{_INVENTED}"
"""Begins the name of every cookie."""
SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = f"{COOKIES}-session", f"{COOKIES}-form"
SESSION_COOKIE_HTTPONLY = CSRF_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 12 * 3600
SESSION_SAVE_EVERY_REQUEST = False
MESSAGE_STORAGE = f"django.contrib.messages.storage.{'session.Session' if _INVENTED else 'fallback.Fallback'}Storage"
X_FRAME_OPTIONS = "DENY"
CSRF_FAILURE_VIEW = "hourmark.web.guard.form_too_old"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "data:"],
        "connect-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
    }
}

AUTHENTICATION_BACKENDS = ["allauth.account.auth_backends.AuthenticationBackend"]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 15}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "/"
ACCOUNT_ADAPTER = "hourmark.web.guard.NoSignUp"
ACCOUNT_LOGIN_METHODS = {"username"}
ACCOUNT_SIGNUP_FIELDS = ["username*", "password1*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = False
ACCOUNT_REAUTHENTICATION_TIMEOUT = 300
ACCOUNT_RATE_LIMITS = {"login_failed": "10/m/ip,10/30m/key"}
ALLAUTH_TRUSTED_PROXY_COUNT = 0 if _LOCAL else 1
MFA_SUPPORTED_TYPES = ["totp", "webauthn", "recovery_codes"]
MFA_PASSKEY_LOGIN_ENABLED = True
MFA_TOTP_ISSUER = "hourmark"
MFA_WEBAUTHN_ALLOW_INSECURE_ORIGIN = _LOCAL
CACHES = {"default": {"BACKEND": "django.core.cache.backends.db.DatabaseCache", "LOCATION": "web_cache"}}

MAIL = SETTINGS.mail
"""The clinic's mail server; None where nothing goes by mail."""

DRILL = SETTINGS.drill
"""The folder of the drill whose pages these are; empty where they are a clinic's or the demo's."""

SECOND_FACTOR = SETTINGS.second_factor
"""Whether a passkey or a one-time code is asked for beside the password."""

IDLE_SECONDS = 30 * 60
"""After so long without a click the page is locked; what was typed stays on it (trust: NIST SP 800-63B-4 draft, AAL2)."""

__all__ = ["DATABASES", "DEFAULT_AUTO_FIELD", "LOGGING_CONFIG", "TIME_ZONE", "USE_TZ"]
