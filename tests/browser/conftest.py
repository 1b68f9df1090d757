"""Chromium as installed on the system, with sound allowed to start by itself."""

import shutil

import pytest


@pytest.fixture(scope="session")
def browser_type_launch_args(browser_type_launch_args):
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    return {
        **browser_type_launch_args,
        **({"executable_path": found} if found else {}),
        "args": [
            "--no-sandbox",
            "--autoplay-policy=no-user-gesture-required",
            "--use-angle=swiftshader",
            "--enable-unsafe-swiftshader",
        ],
    }
