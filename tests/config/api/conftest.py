from tests.api_caller import call_as, scene  # noqa: F401  fixtures of every API test
