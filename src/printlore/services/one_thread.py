"""Linear algebra held to one thread."""

from collections.abc import Callable
from functools import cache, wraps
from typing import ParamSpec, TypeVar

from threadpoolctl import ThreadpoolController

_Asked = ParamSpec("_Asked")
_Found = TypeVar("_Found")


def one_thread(function: Callable[_Asked, _Found]) -> Callable[_Asked, _Found]:
    """The function, with the library of linear algebra held to one thread while it runs.

    The memory's matrices are small: threads inside each product wait for each other and cost more than they bring.
    Whoever calls us from Python has loaded the library already, with a thread for each core; afterwards it has them
    again. (The command line and its page start with one.)
    """

    @wraps(function)
    def held(*arguments: _Asked.args, **named: _Asked.kwargs) -> _Found:
        with _libraries().limit(limits=1, user_api="blas"):
            return function(*arguments, **named)

    return held


@cache
def _libraries() -> ThreadpoolController:
    return ThreadpoolController()
