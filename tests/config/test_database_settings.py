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
