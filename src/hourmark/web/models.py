"""The ordinary tables beside the record: who works here, who the person behind a case is, and who looked at what."""

from django.conf import settings
from django.db import models

from hourmark.case.asked import Role


class Member(models.Model):
    """Somebody of a clinic's staff, and what they may answer for. `name` is what the record knows them by."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="member")
    clinic = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    role = models.CharField(max_length=16, choices=[(str(role), str(role)) for role in Role])
    manager = models.BooleanField(default=False)

    class Meta:
        """A name is one person's in a clinic."""

        constraints = (models.UniqueConstraint(fields=["clinic", "name"], name="member_name"),)


class Person(models.Model):
    """Who a case is: identity and nothing else. Everything else refers to the case."""

    clinic = models.CharField(max_length=64)
    case = models.CharField(max_length=32)
    initials = models.CharField(max_length=8)
    name = models.CharField(max_length=200)
    born = models.CharField(max_length=10)
    phones = models.TextField(blank=True)

    class Meta:
        """One person a case."""

        constraints = (models.UniqueConstraint(fields=["clinic", "case"], name="person_case"),)


class Look(models.Model):
    """Somebody opened a case's page: who, when, and the reason where it was outside their role."""

    clinic = models.CharField(max_length=64)
    case = models.CharField(max_length=32)
    member = models.ForeignKey(Member, on_delete=models.PROTECT)
    at = models.CharField(max_length=20)
    page = models.CharField(max_length=64)
    reason = models.TextField(blank=True)


class Used(models.Model):
    """When a session was last used: kept apart from the session, so that a lock loses nothing that is in it."""

    session = models.CharField(max_length=40, primary_key=True)
    at = models.BigIntegerField()
    since = models.BigIntegerField()
