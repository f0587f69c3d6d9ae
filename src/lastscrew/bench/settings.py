"""Django's settings, from the installation's :class:`~lastscrew.bench.config.Config`."""

from __future__ import annotations

import os
import secrets
from pathlib import Path
from typing import Any

from lastscrew.bench import assets
from lastscrew.bench.config import DATA, config_from, database_settings, secret_of

CONFIG = config_from(os.environ)
HERE = Path(__file__).parent

# Tools that only look at the application name no folder; nothing is written for them.
SECRET_KEY = secret_of(CONFIG) if os.environ.get(DATA) else secrets.token_urlsafe(48)
DEBUG = False
# Who may be named in the address bar. On the loopback default that is this machine; elsewhere the names
# that the certificate has.
ALLOWED_HOSTS = ["localhost", "127.0.0.1", "[::1]", CONFIG.host, *CONFIG.names]
USE_X_FORWARDED_HOST = CONFIG.behind_proxy
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if CONFIG.behind_proxy else None

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "lastscrew.bench.app.BenchConfig",
]
MIDDLEWARE = [
    "lastscrew.bench.access.headers.SecurityHeaders",
    "lastscrew.bench.access.one_shape.OneShape",
    "django.middleware.security.SecurityMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "lastscrew.bench.language.Telling",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "lastscrew.bench.access.zero_bytes.ZeroBytes",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "lastscrew.bench.access.gate.Gate",
    "lastscrew.bench.access.no_room.NoRoom",
]
ROOT_URLCONF = "lastscrew.bench.urls"
WSGI_APPLICATION = "lastscrew.bench.wsgi.application"
DATABASES: dict[str, dict[str, Any]] = {"default": database_settings(CONFIG)}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
AUTH_USER_MODEL = "bench.Person"
LOGIN_URL = "/login/"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.messages.context_processors.messages",
                "lastscrew.bench.pages.common.page_context",
            ]
        },
    }
]

# Passwords: Argon2id with Django's parameters.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.Argon2PasswordHasher"]
AUTH_PASSWORD_VALIDATORS = [
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]

SESSION_COOKIE_NAME = "lastscrew_session"
SESSION_COOKIE_SECURE = CONFIG.secure
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_AGE = 14 * 24 * 3600
CSRF_COOKIE_NAME = "lastscrew_csrf"
CSRF_COOKIE_SECURE = CONFIG.secure
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_TRUSTED_ORIGINS = [f"https://{name}" for name in CONFIG.names] if CONFIG.behind_proxy else []
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# Bounds on what is sent to us: a form, its fields, its files (photos are bounded again by the store).
DATA_UPLOAD_MAX_MEMORY_SIZE = 16 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5_000
DATA_UPLOAD_MAX_NUMBER_FILES = 20
FILE_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024

LANGUAGE_CODE = "en"
LANGUAGES = [("en", "English"), ("de", "Deutsch")]
LOCALE_PATHS = [HERE / "locale"]
LANGUAGE_COOKIE_NAME = "lastscrew_language"
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"
STATIC_URL = assets.static_url()

LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"format": "%(asctime)s %(levelname)s %(name)s: %(message)s"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["console"], "level": "WARNING"},
    # A wrong address or a form that is out of date is told to whoever asked; only our own faults go here.
    "loggers": {
        "django.request": {"level": "ERROR"},
        "django.security.csrf": {"level": "ERROR"},
        "django.security.DisallowedHost": {"level": "CRITICAL"},
    },
}
