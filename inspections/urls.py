"""Addresses of the work, the bench, records, findings, reviews and the library of tests."""

from django.urls import path

from inspections.views import findings, limits, planning, procedures, release, work

app_name = "inspections"
urlpatterns = [
    # Work, findings, release, limits, procedures and tests
    path("work/", work.work, name="work"),
    path("work/book/", work.book_many, name="book_many"),
    path("machines/<int:pk>/plan/", planning.plan, name="plan"),
    path("inspections/<int:pk>/book/", planning.book, name="book"),
    path("inspections/<int:pk>/void/", planning.void, name="void"),
    path("findings/", findings.findings, name="findings"),
    path("findings/<int:pk>/", findings.finding, name="finding"),
    path("findings/<int:pk>/close/", findings.finding_close, name="finding_close"),
    path("machines/<int:pk>/fault/", findings.fault_report, name="fault_report"),
    path("machines/<int:pk>/retest/", findings.retest_plan, name="retest_plan"),
    path("machines/<int:pk>/release/", release.release, name="release"),
    path("library/procedures/", procedures.procedures, name="procedures"),
    path("library/procedures/<int:pk>/", procedures.procedure, name="procedure"),
    path("library/tests/", procedures.tests, name="tests"),
    path("library/tests/<slug:code>/", procedures.test, name="test"),
    path("library/limits/", limits.limits, name="limits"),
    path("library/limits/add/", limits.limit_add, name="limit_add"),
    path("library/limits/<int:pk>/end/", limits.limit_end, name="limit_end"),
]
