import os

import pytest


@pytest.fixture(autouse=True)
def no_settings_in_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the variables of whoever runs the tests out of them."""
    for name in list(os.environ):
        if name.upper().startswith("CLUTCHWARDEN_"):
            monkeypatch.delenv(name)
