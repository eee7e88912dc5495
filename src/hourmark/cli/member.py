"""hourmark member: the first accounts of a clinic, entered at the terminal; there is none by default."""

import os
import secrets

import click

from hourmark.case.asked import Role
from hourmark.cli.show import STOPPED, UNREADABLE, print_findings
from hourmark.store.settings import read_settings
from hourmark.store.setup import ready
from hourmark.store.starting import mixing
from hourmark.web import SETTINGS_MODULE


def run(username: str, name: str, role: str, manager: bool) -> int:
    """Enter somebody, say the first password one time, and the exit status."""
    settings = read_settings(os.environ)
    if isinstance(settings, tuple):
        print_findings(settings)
        return UNREADABLE
    ready(SETTINGS_MODULE)
    if mixed := mixing(settings, "default"):
        print_findings(mixed)
        return STOPPED
    from django.contrib.auth import get_user_model
    from django.db import IntegrityError, transaction

    from hourmark.web.models import Member

    password = secrets.token_urlsafe(16)
    try:
        with transaction.atomic():
            user = get_user_model().objects.create_user(username=username, password=password)
            Member.objects.create(user=user, clinic=settings.clinic, name=name, role=str(Role(role)), manager=manager)
    except IntegrityError:
        click.echo(f"{username} or {name} is entered already.", err=True)
        return STOPPED
    click.echo(f"{name} signs in as {username} with the password {password}, shown this one time.")
    return 0
