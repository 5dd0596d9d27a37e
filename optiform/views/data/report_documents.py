"""Defines the JSON documents of reports on a folder of products, a library and an installation."""

from __future__ import annotations

from optiform.answers.doctor import Diagnosis
from optiform.answers.library.report import LibraryReport
from optiform.answers.recost import Recosting
from optiform.views.data.document import whole

RECOSTING = whole("recost", Recosting)
REPORT = whole("library check", LibraryReport)
DIAGNOSIS = whole("doctor", Diagnosis, healthy=bool)
