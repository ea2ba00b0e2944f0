"""Bound: what listens for pages."""

import asyncio
import socket
from concurrent.futures import ThreadPoolExecutor

import pytest

from holdzero.web.bound import bound


@pytest.mark.parametrize("host", ["127.0.0.1", "::1"])
def test_the_end_of_an_answer_does_not_wait_for_the_other_side(host):
    """An answer in two parts, head and page: with Nagle's algorithm (RFC 896) the second waits for a late ACK."""
    listening = bound(host, 0)
    if listening is None:
        pytest.skip(f"nothing can listen at {host} here")

    async def connected() -> int:
        at_once = asyncio.get_running_loop().create_future()

        def answer(_reader, writer):
            accepted = writer.get_extra_info("socket")
            at_once.set_result(accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        async with await asyncio.start_server(answer, sock=listening):
            _, writer = await asyncio.open_connection(*listening.getsockname()[:2])
            sent_at_once = await at_once
            writer.close()
            await writer.wait_closed()
        return sent_at_once

    with ThreadPoolExecutor(1) as beside:  # a browser in the same process has an event loop of its own
        assert beside.submit(asyncio.run, connected()).result(timeout=60)
