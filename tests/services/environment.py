"""Loaded by pytest before Django's settings: the suite ignores the environment of the person who runs it.

Only DATABASE_URL stays, which chooses the database of the suite.
"""

import atexit
import os
import shutil
import tempfile

FOREIGN = (
    "ALLOWED_HOSTS", "BASE_URL", "DATABASE_PASSWORD", "DATABASE_POOL", "DATABASE_STATEMENT_TIMEOUT", "HSTS_SECONDS",
    "LOG_FORMAT", "PASSKEY_DOMAIN", "PORT", "REDIS_URL", "SECURE_COOKIES", "SSL_REDIRECT", "STATIC_HASHED",
    "STATIC_ROOT", "TIME_ZONE", "TRUSTED_ORIGINS", "TRUSTED_PROXY",
)  # fmt: skip

for name in FOREIGN:
    os.environ.pop(name, None)

# A worker of pytest-xdist inherits the folder of the process that started it.
if "BOBBIN_TEST_DATA_DIR" not in os.environ:
    os.environ["BOBBIN_TEST_DATA_DIR"] = tempfile.mkdtemp(prefix="bobbin-test-")
    atexit.register(shutil.rmtree, os.environ["BOBBIN_TEST_DATA_DIR"], ignore_errors=True)
os.environ["DATA_DIR"] = os.environ["BOBBIN_TEST_DATA_DIR"]
# Where Python may not write compiled modules beside the sources, each process that a test starts would compile all.
if os.environ.pop("PYTHONDONTWRITEBYTECODE", None):
    os.environ["PYTHONPYCACHEPREFIX"] = os.path.join(os.environ["DATA_DIR"], "compiled")
os.makedirs(os.path.join(os.environ["DATA_DIR"], "static"), exist_ok=True)
os.environ["SECRET_KEY"] = "only-for-tests-" + "k" * 50
os.environ["DEBUG"] = "no"
os.environ.update(RL_shapeChecking="1")  # a shape given what it does not have is an error
