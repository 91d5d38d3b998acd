"""Who has access, how often, and the form of every refusal."""

from datetime import date, timedelta

import pytest
from redis.exceptions import ConnectionError as RedisConnectionError

from fleet.actions import revoke_token
from fleet.models import ApiToken
from tests.api_caller import Caller
from tests.factories import NOON, make_area, make_machine, make_person, make_site

PROBLEM = {"type", "title", "status", "detail", "instance", "request_id", "errors"}  # RFC 9457, 3.1, and two extensions


def assert_problem(response, status):
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"  # RFC 9457, section 3
    content = response.json()
    assert set(content) == PROBLEM and content["status"] == status
    assert content["type"].startswith("http") and content["title"] and content["detail"]
    assert content["instance"].startswith("/api/")
    return content


def test_a_token_of_any_group_reads_the_register(call_as):
    for group in ("auditor", "technician", "planner", "manager"):
        assert call_as(group).get("/machines").status_code == 200


def test_without_a_token_nothing_is_told(db, client):
    response = client.get("/api/v1/machines")
    assert_problem(response, 401)
    assert response["WWW-Authenticate"].startswith("Bearer")  # RFC 9110, 11.6.1


@pytest.mark.parametrize("header", ["Bearer", "Bearer wrong", "Basic abc", "bobbin_x", "Bearer \udcff"])
def test_a_header_that_holds_no_token_is_refused(db, client, header):
    assert_problem(client.get("/api/v1/machines", headers={"Authorization": header}), 401)


def test_a_session_does_not_stand_in_for_a_token(db, client):
    client.force_login(make_person("planner"))
    assert_problem(client.get("/api/v1/machines"), 401)
    assert_problem(client.post("/api/v1/machines/1/findings", {}, content_type="application/json"), 401)


def test_a_revoked_token_is_refused(call_as):
    caller = call_as()
    revoke_token(caller.token, by=None, at=NOON)
    assert "revoked" in assert_problem(caller.get("/machines"), 401)["detail"]


def test_a_token_that_its_owner_has_not_confirmed_is_refused(call_as):
    caller = call_as()
    ApiToken.objects.update(confirmed_at=None)
    refused = assert_problem(caller.get("/machines"), 401)["detail"]
    assert "is not confirmed" in refused and "My tokens" in refused


def test_a_token_is_refused_after_its_last_day(call_as):
    yesterday = date.today() - timedelta(days=1)
    assert "expired on" in assert_problem(call_as(expires_on=yesterday).get("/machines"), 401)["detail"]


def test_a_token_is_refused_when_its_owner_leaves_the_group(call_as):
    caller = call_as("planner")
    caller.token.owner.groups.clear()
    assert "no longer in the group" in assert_problem(caller.get("/machines"), 401)["detail"]


def test_a_token_is_refused_when_its_owner_can_no_longer_log_in(call_as):
    caller = call_as()
    caller.token.owner.is_active = False
    caller.token.owner.save()
    assert_problem(caller.get("/machines"), 401)


def test_a_token_does_what_its_group_may_and_no_more_than_that(call_as):
    both = make_person("auditor", "technician")
    machine = make_machine()
    body = {"title": "Hose worn", "severity": "other"}
    assert_problem(call_as("auditor", owner=both).post(f"/machines/{machine.pk}/findings", body), 403)


def test_a_token_sees_the_sites_of_its_owner_only(call_as):
    here, there = make_site(), make_site()
    mine, other = make_machine(area=make_area(here)), make_machine(area=make_area(there))
    caller = call_as(owner=make_person("technician", sites=[here]))
    assert [row["id"] for row in caller.items("/machines")] == [mine.pk]
    assert [row["id"] for row in caller.items("/sites")] == [here.pk]
    assert_problem(caller.get(f"/machines/{other.pk}"), 404)
    assert_problem(caller.get(f"/machines/{other.pk}/features"), 404)
    assert_problem(caller.post(f"/machines/{other.pk}/findings", {"title": "x", "severity": "other"}), 404)


def test_the_day_of_use_is_kept_and_written_once_a_day(call_as, django_assert_num_queries):
    caller = call_as()
    caller.get("/sites")
    assert ApiToken.objects.get().last_used_on == date.today()
    with django_assert_num_queries(5):  # token, permission, sites of the owner, count, rows
        caller.get("/sites")


def test_a_token_that_asks_too_often_is_told_how_long_to_wait(call_as, settings):
    settings.API_RATE = "2/min"
    caller, other = call_as(), call_as("auditor")
    assert [caller.get("/sites").status_code for _ in range(3)] == [200, 200, 429]
    refused = caller.get("/sites")
    assert_problem(refused, 429)
    assert 1 <= int(refused["Retry-After"]) <= 60  # RFC 9110, 10.2.3: seconds
    assert other.get("/sites").status_code == 200


def test_nobody_is_held_up_when_requests_cannot_be_counted(call_as, monkeypatch):
    def away(*args):
        raise RedisConnectionError("refused")

    caller = call_as()
    monkeypatch.setattr("django.core.cache.backends.locmem.LocMemCache.get", away)
    assert caller.get("/sites").status_code == 200


def test_an_unknown_address_is_a_problem_too(db, client):
    assert_problem(client.get("/api/v1/nothing"), 404)
    assert_problem(client.get("/api/v2/machines"), 404)


def test_a_method_that_an_address_does_not_take_is_a_problem_that_names_those_it_takes(call_as):
    caller = call_as()
    response = caller.client.delete("/api/v1/machines", headers=caller.headers)
    assert_problem(response, 405)
    assert response["Allow"] == "GET"  # RFC 9110, 15.5.6


def test_the_document_is_open_to_all_and_only_read(db, client):
    assert client.get("/api/v1/openapi.json").json()["openapi"].startswith("3.1")
    assert_problem(client.post("/api/v1/openapi.json"), 405)


def test_a_body_that_is_not_json_is_refused(call_as):
    caller, path = call_as(), f"/api/v1/machines/{make_machine().pk}/findings"
    send = {"headers": caller.headers}
    assert_problem(caller.client.post(path, "{", content_type="application/json", **send), 400)
    assert_problem(caller.client.post(path, {"title": "x"}, **send), 415)
    assert_problem(caller.client.post(path, " " * 70_000, content_type="application/json", **send), 413)


def test_a_request_with_wrong_parts_is_told_each_of_them(call_as):
    caller = call_as()
    errors = assert_problem(caller.get("/machines", page_size=101, duty="lost"), 422)["errors"]
    assert {error["where"] for error in errors} == {"query.page_size", "query.duty"}
    assert_problem(caller.get("/machines", dutty="retired"), 422)
    assert_problem(caller.get("/machines", state="fitted"), 422)
    assert_problem(caller.get("/inspections", due_to="0"), 422)
    assert_problem(caller.post(f"/machines/{make_machine().pk}/findings", {"title": "x", "severty": "other"}), 422)


def test_a_fault_of_ours_is_a_problem_without_its_inside(call_as, monkeypatch):
    def broken(*args):
        raise RuntimeError("secret inside")

    caller = call_as()
    caller.client.raise_request_exception = False
    monkeypatch.setattr("fleet.api.places.ordered", broken)
    content = assert_problem(caller.get("/sites"), 500)
    assert "inside" not in str(content)


def test_what_did_not_change_is_not_sent_again(call_as):
    caller = call_as()
    first = caller.get("/sites")
    again = caller.client.get("/api/v1/sites", headers={**caller.headers, "If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")  # RFC 9110, 13.1.2
    make_site()
    changed = caller.client.get("/api/v1/sites", headers={**caller.headers, "If-None-Match": first["ETag"]})
    assert changed.status_code == 200


def test_no_answer_is_kept_by_a_cache_for_others(call_as):
    response = call_as().get("/sites")
    assert "private" in response["Cache-Control"] and "Authorization" in response["Vary"]


def test_nobody_signs_through_the_api(client):
    document = client.get("/api/v1/openapi.json").json()
    posts = {path for path, methods in document["paths"].items() if set(methods) - {"get"}}
    assert posts == {"/api/v1/machines/{pk}/findings", "/api/v1/steps/{pk}/readings"}


def test_the_page_of_the_api_names_every_address_and_every_problem(db, client):
    client.force_login(make_person("auditor"))
    text = client.get("/library/api/").content.decode()
    paths = client.get("/api/v1/openapi.json").json()["paths"]
    assert len(paths) >= 24 and all(path in text for path in paths)
    assert all(f'id="{kind}"' in text for kind in ("token-refused", "refused", "too-many-requests"))


def test_the_page_of_the_api_asks_for_a_session(db, client):
    assert client.get("/library/api/").status_code == 302
    assert Caller(client, "x").get("/sites").status_code == 401
