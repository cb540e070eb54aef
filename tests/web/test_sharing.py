"""What is printed for another device holds the address and the code."""

import ipaddress

from tideover.web.sharing import address_here, invitation


def test_the_invitation_says_where_and_with_which_code_and_draws_both():
    said = invitation("192.168.4.2", 8400, "ABCDEFGH")
    assert "http://192.168.4.2:8400/pair" in said and "ABCD-EFGH" in said
    assert "once, within 10 minutes" in said and "trust" in said
    assert sum("█" in line or "▄" in line or "▀" in line for line in said.splitlines()) > 10


def test_the_address_is_one_that_others_can_reach():
    address = address_here()
    assert address == "" or not ipaddress.ip_address(address).is_loopback
