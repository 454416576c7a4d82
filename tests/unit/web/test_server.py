"""The port of the desk: a number that a port can have, on this machine alone, or a sentence."""

import errno
import socket
from contextlib import closing

import pytest

from pourwell.errors import BadRequestError
from pourwell.web.server import HOST, PORT, free_port


@pytest.mark.parametrize("wanted", [70000, 65536, 0, -3])
def test_a_number_that_no_port_has_is_told_with_those_that_one_may_have(wanted):
    """TCP has 16 bits for a port, and 0 is none (RFC 9293, RFC 6335)."""
    with pytest.raises(BadRequestError, match=f"There is no port {wanted}") as caught:
        free_port(wanted)
    assert caught.value.why == "Ports have the numbers 1 to 65535."


def test_a_port_that_is_taken_is_told_with_what_the_system_says():
    with closing(socket.socket()) as other:
        other.bind((HOST, 0))
        other.listen()
        with pytest.raises(BadRequestError, match=r"is not free\. The system says"):
            free_port(other.getsockname()[1])


def test_a_port_that_is_not_the_users_is_not_called_taken(monkeypatch):
    def refuse(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(socket.socket, "bind", refuse)
    with pytest.raises(BadRequestError, match=r"Port 80 is not free\. The system says: Permission denied"):
        free_port(80)
    with pytest.raises(BadRequestError, match=f"No port from {PORT} to"):
        free_port(None)


def test_a_free_port_is_had_on_this_machine_alone():
    with closing(socket.socket()) as probe:
        probe.bind((HOST, 0))
        number = probe.getsockname()[1]
    with closing(free_port(number)) as listening:
        assert listening.getsockname() == (HOST, number)
