"""Chromium as installed on the system, with sound allowed to start by itself."""

import shutil

import pytest


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    return {
        **browser_type_launch_args,
        **({"executable_path": found} if found else {}),
        # Its monitor ends a page that does not answer, as at a user's desk. Without it a page that begins to load
        # just while it is closed, and listens for being left, is waited for without end.
        "ignore_default_args": ["--disable-hang-monitor"],
        "args": [
            "--no-sandbox",
            "--autoplay-policy=no-user-gesture-required",
            "--disable-gpu",
        ],
    }
