"""The four layers of the design, and that imports only go down them."""

from importlinter import cli


def test_imports_go_down_the_layers_and_never_up(capsys):
    code = cli.lint_imports(config_filename="pyproject.toml", no_cache=True)
    assert code == cli.EXIT_STATUS_SUCCESS, capsys.readouterr().out
