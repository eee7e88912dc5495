"""The way in for a server of pages."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "hourmark.web.settings")
application = get_wsgi_application()
