"""The tables of the record. Nothing here is ever changed row by row: see guards.py for what the database itself forbids."""

from django.db import models


class Head(models.Model):
    """The last entry of each stream; moves on with it, in the same transaction."""

    pk = models.CompositePrimaryKey("clinic", "stream")
    clinic = models.CharField(max_length=64)
    stream = models.CharField(max_length=128)
    seq = models.BigIntegerField()
    hash = models.CharField(max_length=64)

    class Meta:
        """The table."""

        db_table = "record_head"


class Entry(models.Model):
    """Each entry's header, byte for byte, and its digest. The other columns repeat what the header says, to find it by."""

    pk = models.CompositePrimaryKey("clinic", "stream", "seq")
    clinic = models.CharField(max_length=64)
    stream = models.CharField(max_length=128)
    seq = models.BigIntegerField()
    act = models.CharField(max_length=128)
    part = models.IntegerField()
    header = models.BinaryField()
    hash = models.CharField(max_length=64)

    class Meta:
        """The table; a key is used once in a clinic."""

        db_table = "record_entry"
        constraints = (models.UniqueConstraint(fields=["clinic", "act", "part"], name="record_entry_act"),)


class Body(models.Model):
    """Each entry's body and its salt, apart from the header so that they can be erased and the chain still holds."""

    pk = models.CompositePrimaryKey("clinic", "stream", "seq")
    clinic = models.CharField(max_length=64)
    stream = models.CharField(max_length=128)
    seq = models.BigIntegerField()
    salt = models.BinaryField()
    body = models.BinaryField()

    class Meta:
        """The table."""

        db_table = "record_body"


class Erasure(models.Model):
    """Bodies that may be erased, entered just before they are."""

    pk = models.CompositePrimaryKey("clinic", "stream", "seq")
    clinic = models.CharField(max_length=64)
    stream = models.CharField(max_length=128)
    seq = models.BigIntegerField()

    class Meta:
        """The table."""

        db_table = "record_erasure"


class Outbox(models.Model):
    """Messages that wait to be sent."""

    id = models.BigAutoField(primary_key=True)
    clinic = models.CharField(max_length=64)
    kind = models.CharField(max_length=64)
    to = models.CharField(max_length=256)
    text = models.TextField()

    class Meta:
        """The table."""

        db_table = "record_outbox"
