"""The pages as one of Django's applications."""

from django.apps import AppConfig


class WebConfig(AppConfig):
    """The pages."""

    name = "hourmark.web"
    label = "web"
