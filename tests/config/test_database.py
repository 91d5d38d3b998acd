from tests.services.bobbin import manage

ASK = """
from django.db import connection
with connection.cursor() as cursor:
    cursor.execute("SHOW jit")
    print(cursor.fetchone()[0])
"""


def test_postgresql_does_not_compile_the_queries_of_pages(postgresql_url, tmp_path):
    done = manage("shell", "--no-imports", "-c", ASK, DATABASE_URL=postgresql_url, DATA_DIR=str(tmp_path))
    assert done.stdout.split() == ["off"]


LIMITS = """
from django.db import connection
with connection.cursor() as cursor:
    cursor.execute("SHOW statement_timeout")
    print(cursor.fetchone()[0], connection.settings_dict["CONN_MAX_AGE"], bool(connection.pool))
"""


def test_a_statement_is_given_up_after_a_minute_and_connections_are_kept(postgresql_url, tmp_path):
    done = manage("shell", "--no-imports", "-c", LIMITS, DATABASE_URL=postgresql_url, DATA_DIR=str(tmp_path))
    assert done.stdout.split() == ["1min", "60", "False"]


def test_the_time_limit_and_the_pool_follow_the_environment(postgresql_url, tmp_path):
    chosen = {"DATABASE_STATEMENT_TIMEOUT": "7", "DATABASE_POOL": "3"}
    done = manage("shell", "--no-imports", "-c", LIMITS, DATABASE_URL=postgresql_url, DATA_DIR=str(tmp_path), **chosen)
    assert done.stdout.split() == ["7s", "0", "True"]


def test_secrets_come_from_files_and_lose_their_last_line_end(tmp_path):
    show = "from django.conf import settings as s; print(s.SECRET_KEY, s.DATABASES['default']['PASSWORD'])"
    for name, text in {"key": "k" * 60, "password": "fluted"}.items():
        (tmp_path / name).write_text(f"{text}\n")
    files = {"SECRET_KEY_FILE": str(tmp_path / "key"), "DATABASE_PASSWORD_FILE": str(tmp_path / "password")}
    url = "postgres://bobbin@127.0.0.1:1/bobbin"
    done = manage("shell", "--no-imports", "-c", show, DATABASE_URL=url, DATA_DIR=str(tmp_path), **files)
    assert done.stdout.split() == ["k" * 60, "fluted"]
