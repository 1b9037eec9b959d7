"""The command line's contract, seen from outside."""


def test_the_version_is_told(sinistra):
    done = sinistra("--version")
    assert done.returncode == 0
    assert done.stdout.startswith("sinistra ")


def test_a_wrong_subcommand_is_the_users_mistake(sinistra):
    done = sinistra("no-such-thing")
    assert done.returncode == 2
    assert done.stdout == ""
    assert "no-such-thing" in done.stderr
