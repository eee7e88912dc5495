"""The ordinary tables beside the record: who works here, who the person behind a case is, and who looked at what."""

from django.conf import settings
from django.db import models

from hourmark.case.asked import STAFF


class Member(models.Model):
    """Somebody of a clinic's staff, and what they may answer for. `name` is what the record knows them by."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="member")
    clinic = models.CharField(max_length=64)
    name = models.CharField(max_length=200)
    role = models.CharField(max_length=16, choices=[(str(role), str(role)) for role in STAFF])
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
    mail = models.CharField(max_length=254, blank=True)

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


class Posting(models.Model):
    """What became of a released page that goes by mail: how often it was tried, what went wrong, when it goes on, when it was out."""

    clinic = models.CharField(max_length=64)
    case = models.CharField(max_length=32)
    version = models.IntegerField()
    tries = models.IntegerField(default=0)
    tried_at = models.CharField(max_length=20, blank=True)
    next_at = models.CharField(max_length=20, blank=True)
    sent_at = models.CharField(max_length=20, blank=True)
    trouble = models.TextField(blank=True)

    class Meta:
        """One for each version of a case's page."""

        constraints = (models.UniqueConstraint(fields=["clinic", "case", "version"], name="posting_version"),)


class Used(models.Model):
    """When a session was last used: kept apart from the session, so that a lock loses nothing that is in it."""

    session = models.CharField(max_length=40, primary_key=True)
    at = models.BigIntegerField()
    since = models.BigIntegerField()


class WatchBeat(models.Model):
    """When the watch last looked at a clinic's silent injections, on the clock of its machine; `unwatched` are the cases it could not read."""

    clinic = models.CharField(max_length=64, primary_key=True)
    at = models.CharField(max_length=20)
    unwatched = models.TextField(blank=True)


class Link(models.Model):
    """The secret side of a link to her page: what tells its token and its code, never either of them.

    `number` is the link's among those of its case in the record. `wrong` counts the wrong tries at its code for its whole life; `misses`
    the wrong answers in practice since the last right one, and `practised` the last answer that was counted.
    """

    clinic = models.CharField(max_length=64)
    case = models.CharField(max_length=32)
    number = models.IntegerField()
    digest = models.CharField(max_length=64, unique=True)
    code_salt = models.CharField(max_length=32, blank=True)
    code_digest = models.CharField(max_length=64, blank=True)
    wrong = models.IntegerField(default=0)
    misses = models.IntegerField(default=0)
    practised = models.CharField(max_length=80, blank=True)

    class Meta:
        """One for each link of a case in the record."""

        constraints = (models.UniqueConstraint(fields=["clinic", "case", "number"], name="link_number"),)
