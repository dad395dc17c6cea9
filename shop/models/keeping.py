"""When everything was last copied, so that the owner's page can say how old the last copy is."""

from typing import ClassVar

from django.db import models


class Backup(models.Model):
    """One copy of everything that was made and proved; where its file lies is for whoever runs the machine."""

    made_at = models.DateTimeField()
    file_name = models.CharField(max_length=60)
    size = models.PositiveBigIntegerField()  # bytes

    class Meta:
        ordering: ClassVar = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return self.file_name
