"""The way in for a server of pages."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "hourmark.web.settings")


def _begin_logging() -> None:
    """What is logged goes out as lines that hold no address: an address can hold a link. Django on its own would print it."""
    from hourmark.store.django_settings import SETTINGS
    from hourmark.store.logs import log_to_standard_error

    log_to_standard_error(SETTINGS.log_level)


_begin_logging()
application = get_wsgi_application()


def _begin_sending() -> None:
    """Pages that wait go out from the process that serves, where the clinic has a mail server."""
    from django.conf import settings

    from hourmark.store.django_settings import SETTINGS
    from hourmark.web import mail
    from hourmark.web.work import desk_of

    if settings.MAIL is not None:
        mail.start(desk_of(SETTINGS.clinic), settings.MAIL)


_begin_sending()
