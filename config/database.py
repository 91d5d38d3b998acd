"""The database connection from the environment."""

SQLITE_OPTIONS = {
    # FULL: a reading that was acknowledged is on the disk. IMMEDIATE: two writers queue instead of failing half way.
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    "transaction_mode": "IMMEDIATE",
    # Seconds that a statement waits for another writer; config/failures/again.py decides what a request does then.
    "timeout": 10,
}


def database_settings(env, default: str) -> dict:
    """Return DATABASES["default"] for DATABASE_URL, with the password, pool and time limit of the environment."""
    database = env.db("DATABASE_URL", default=default)
    if database["ENGINE"] == "django.db.backends.sqlite3":
        return database | {"OPTIONS": dict(SQLITE_OPTIONS)}
    if password := env("DATABASE_PASSWORD", default="").strip():
        database["PASSWORD"] = password
    limit_s = env.int("DATABASE_STATEMENT_TIMEOUT", default=60)
    options = database.setdefault("OPTIONS", {})
    # jit: compiling the queries of a page takes longer than running them: ten times as long for a count over the fleet.
    options.setdefault("options", f"-c jit=off -c statement_timeout={limit_s * 1000}")
    options.setdefault("connect_timeout", 5)
    database |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    if size := env.int("DATABASE_POOL", default=0):
        # The pool keeps the connections itself, and hands out none that it has not looked at.
        database |= {"CONN_MAX_AGE": 0, "CONN_HEALTH_CHECKS": False}
        options["pool"] = {"min_size": 1, "max_size": size, "timeout": 10}
    return database
