"""How values are declared of which every line or fix makes one."""

from functools import partial
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from attrs import frozen as light_value
else:
    from attrs import define

    # To make a really frozen value costs two to four times as much, each attribute going through
    # object.__setattr__; with some twenty of them a fix it was a tenth of all the work. So the type
    # checker alone keeps these frozen. They compare, hash and copy as frozen ones do.
    light_value = partial(define, unsafe_hash=True, weakref_slot=False)

__all__ = ["light_value"]
