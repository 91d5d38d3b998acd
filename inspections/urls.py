"""Addresses of the work, the bench, records, findings, reviews and the library of tests."""

from django.urls import path

from inspections.views import (
    background_jobs,
    bench,
    findings,
    limits,
    pdfs,
    planning,
    procedures,
    proof,
    proposals,
    record,
    release,
    review,
    signing,
    work,
)
from inspections.views.device_requests import answered_once

app_name = "inspections"
urlpatterns = [
    # Work, findings, release, limits, procedures and tests
    path("inspections/", work.WorkList.as_view(), name="work"),
    path("inspections/book/", work.book_many, name="book_many"),
    path("machines/<int:pk>/plan/", planning.plan, name="plan"),
    path("inspections/<int:pk>/book/", planning.book, name="book"),
    path("inspections/<int:pk>/void/", planning.void, name="void"),
    path("findings/", findings.FindingList.as_view(), name="findings"),
    path("findings/<int:pk>/", findings.finding, name="finding"),
    path("findings/<int:pk>/close/", findings.finding_close, name="finding_close"),
    path("machines/<int:pk>/fault/", findings.fault_report, name="fault_report"),
    path("machines/<int:pk>/retest/", findings.retest_plan, name="retest_plan"),
    path("machines/<int:pk>/release/", release.release, name="release"),
    path("proposals/<int:pk>/", proposals.proposal, name="proposal"),
    path("library/procedures/", procedures.procedures, name="procedures"),
    path("library/procedures/<int:pk>/", procedures.procedure, name="procedure"),
    path("library/tests/", procedures.tests, name="tests"),
    path("library/tests/computed-anew/", background_jobs.reevaluation, name="reevaluation"),
    path("library/tests/<slug:code>/", procedures.test, name="test"),
    path("library/limits/", limits.limits, name="limits"),
    path("library/limits/add/", limits.limit_add, name="limit_add"),
    path("library/limits/<int:pk>/end/", limits.limit_end, name="limit_end"),
    path("library/limits/sites/<int:pk>/<slug:code>/confirm/", limits.limit_confirm, name="limit_confirm"),
    path("library/limits/confirmations/<int:pk>/withdraw/", limits.confirmation_withdraw, name="confirmation_withdraw"),
    # The bench, signing and the record
    path("inspections/<int:pk>/", record.inspection, name="inspection"),
    path("inspections/<int:pk>/open/", bench.inspection_open, name="open"),
    path("inspections/<int:pk>/bench/", bench.bench, name="bench"),
    path("inspections/<int:pk>/bench/<int:step_pk>/", bench.bench_step, name="bench_step"),
    path("inspections/<int:pk>/bench/others/", bench.bench_others, name="bench_others"),
    path("inspections/steps/<int:pk>/reading/", bench.reading_enter, name="reading_enter"),
    path("inspections/steps/<int:pk>/not-tested/", bench.not_tested, name="not_tested"),
    path("inspections/<int:pk>/sign/", signing.inspection_sign, name="sign"),
    path("inspections/<int:pk>/countersign/", signing.inspection_countersign, name="countersign"),
    path("inspections/<int:pk>/amend/", signing.inspection_amend, name="amend"),
    # Retirement review and papers
    path("retirement/", review.ReviewList.as_view(), name="review"),
    path("retirement/review.pdf", pdfs.review_pdf, name="review_pdf"),
    path("retirement/<int:pk>/", review.review_machine, name="review_machine"),
    path("retirement/<int:pk>/<slug:criterion>/", review.judge, name="judge"),
    path("inspections/<int:pk>/record.pdf", pdfs.record_pdf, name="record_pdf"),
    path("machines/<int:pk>/label.pdf", pdfs.label_pdf, name="label_pdf"),
    # Long work
    path("inspections/records.zip", background_jobs.record_papers, name="record_papers"),
    # Records that prove themselves
    path("library/verify/", proof.verify, name="verify"),
    path("library/verify/seal.txt", proof.seal, name="seal"),
    path("library/verify/paper/", proof.check_pdf, name="check_pdf"),
]
answered_once(urlpatterns)
