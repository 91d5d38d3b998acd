"""Addresses of the register."""

from django.urls import path

from fleet.views import (
    changes,
    circuit,
    circuit_covers,
    components,
    cover,
    digests,
    features,
    instruments,
    jobs,
    machines,
    models,
    own_tokens,
    people,
    personal_data,
    places,
    register_files,
    register_import,
    status,
    tokens,
)

app_name = "fleet"
urlpatterns = [
    # register: machines
    path("machines/", machines.MachineList.as_view(), name="machines"),
    path("machines/machines.csv", machines.MachineFile.as_view(), name="machines_csv"),
    path("machines/register.csv", machines.RegisterFile.as_view(), name="register_csv"),
    path("machines/add/", machines.machine_add, name="machine_add"),
    path("machines/<int:pk>/", machines.machine_page, name="machine"),
    path("machines/<int:pk>/edit/", machines.machine_edit, name="machine_edit"),
    path("machines/<int:pk>/history/", machines.machine_history, name="machine_history"),
    path("machines/<int:pk>/withdraw/", status.machine_withdraw, name="machine_withdraw"),
    path("machines/<int:pk>/retire/", status.machine_retire, name="machine_retire"),
    path("machines/<int:pk>/protections/<slug:code>/", features.feature_record, name="feature_record"),
    path("machines/<int:pk>/components/fit/", components.component_fit, name="component_fit"),
    path("machines/components/<int:pk>/remove/", components.component_remove, name="component_remove"),
    # register: gas circuits
    path("machines/<int:pk>/circuit/", circuit.machine_circuit, name="machine_circuit"),
    path("machines/<int:pk>/circuit/circuit.pdf", circuit.machine_circuit_pdf, name="machine_circuit_pdf"),
    path("machines/<int:pk>/circuit/circuit.toml", circuit.machine_circuit_file, name="machine_circuit_file"),
    path(
        "machines/<int:pk>/circuit/parts/<slug:code>/replace/", components.component_replace, name="component_replace"
    ),
    path(
        "machines/<int:pk>/circuit/parts/<slug:code>/remove/", components.component_take_out, name="component_take_out"
    ),
    path("machines/<int:pk>/circuit/join/", components.circuit_join, name="circuit_join"),
    path("machines/<int:pk>/circuit/take-apart/", components.circuit_disconnect, name="circuit_disconnect"),
    path("machines/circuit/changes/<int:pk>/undo/", components.circuit_undo, name="circuit_undo"),
    path("machines/models/<int:pk>/circuit/", circuit.model_circuit, name="model_circuit"),
    path("machines/models/<int:pk>/circuit/circuit.toml", circuit.model_circuit_file, name="model_circuit_file"),
    # register: models, instruments, places, import
    path("machines/models/", models.ModelList.as_view(), name="models"),
    path("machines/models/add/", models.model_add, name="model_add"),
    path("machines/models/<int:pk>/", models.model_page, name="model"),
    path("machines/models/<int:pk>/edit/", models.model_edit, name="model_edit"),
    path("instruments/", instruments.InstrumentList.as_view(), name="instruments"),
    path("instruments/add/", instruments.instrument_add, name="instrument_add"),
    path("instruments/<int:pk>/", instruments.instrument_page, name="instrument"),
    path("instruments/<int:pk>/calibrations/add/", instruments.calibration_add, name="calibration_add"),
    path("machines/sites/", places.sites, name="sites"),
    path("machines/sites/add/", places.site_add, name="site_add"),
    path("machines/sites/<int:pk>/areas/add/", places.area_add, name="area_add"),
    path("machines/sites/<int:pk>/edit/", places.site_edit, name="site_edit"),
    path("machines/areas/<int:pk>/edit/", places.area_edit, name="area_edit"),
    path("machines/import/", register_import.import_register, name="import_register"),
    path("machines/import/<int:pk>/", register_import.import_preview, name="import_preview"),
    path("machines/import/<int:pk>/reading/", register_import.import_reading, name="import_reading"),
    path("machines/import/<int:pk>/problems.<slug:fmt>", register_import.import_problems, name="import_problems"),
    path("machines/import/<slug:kind>-template.<slug:fmt>", register_import.import_template, name="import_template"),
    path("machines/export/<slug:kind>.<slug:fmt>", register_files.register_export, name="register_export"),
    # changes of a record
    path("changes/<slug:kind>/<int:pk>/", changes.changes, name="changes"),
    # people and their accounts
    path("people/", people.PersonList.as_view(), name="people"),
    path("people/add/", people.person_add, name="person_add"),
    path("people/<int:pk>/", people.person_page, name="person"),
    path("people/<int:pk>/edit/", people.person_edit, name="person_edit"),
    path("people/<int:pk>/lock/", people.person_lock, name="person_lock"),
    path("people/<int:pk>/unlock/", people.person_unlock, name="person_unlock"),
    path("people/<int:pk>/link/", people.person_link, name="person_link"),
    path("people/<int:pk>/second-factor/remove/", people.person_second_factor, name="person_second_factor"),
    path("people/<int:pk>/data.json", personal_data.person_data_file, name="person_data_file"),
    path("people/<int:pk>/remove/", personal_data.person_remove, name="person_remove"),
    path("own-data/", personal_data.own_data, name="own_data"),
    path("own-data/data.json", personal_data.own_data_file, name="own_data_file"),
    # cover tables of gas circuits
    path("machines/<int:pk>/cover/", circuit_covers.machine_cover, name="machine_cover"),
    path("machines/<int:pk>/cover/compute/", circuit_covers.machine_cover_compute, name="machine_cover_compute"),
    path("machines/<int:pk>/cover/pairs/", circuit_covers.machine_cover_pairs, name="machine_cover_pairs"),
    path("machines/<int:pk>/cover/cover.<slug:fmt>", circuit_covers.machine_cover_file, name="machine_cover_file"),
    path("cover/circuits/compute/", circuit_covers.covers_compute, name="covers_compute"),
    # cover report
    path("cover/", cover.cover, name="cover"),
    path("cover/cover.<str:fmt>", cover.cover_export, name="cover_export"),
    # background jobs
    path("jobs/", jobs.JobList.as_view(), name="jobs"),
    path("jobs/<int:pk>/", jobs.job, name="job"),
    path("jobs/<int:pk>/cancel/", jobs.job_cancel, name="job_cancel"),
    path("jobs/<int:pk>/again/", jobs.job_retry, name="job_retry"),
    path("digest/", digests.digest, name="digest"),
    path("jobs/<int:pk>/file/", jobs.job_file, name="job_file"),
    # tokens of programs
    path("people/tokens/", tokens.TokenList.as_view(), name="api_tokens"),
    path("people/tokens/add/", tokens.api_token_add, name="api_token_add"),
    path("people/tokens/<int:pk>/revoke/", tokens.api_token_revoke, name="api_token_revoke"),
    path("tokens/", own_tokens.OwnTokenList.as_view(), name="own_tokens"),
    path("tokens/<int:pk>/confirm/", own_tokens.own_token_confirm, name="own_token_confirm"),
    path("tokens/<int:pk>/revoke/", own_tokens.own_token_revoke, name="own_token_revoke"),
]
