from tests.fleet.fuzz_import import prepare, run


def test_sixty_mutated_files_are_imported_whole_or_not_at_all(db):
    prepare()
    found = run(60, "kept")
    assert found.total() == 60
    assert {"problems", "imported"} <= found.keys()
