"""Whether the desk of an office answers on this machine, for whoever watches over it: `python -m
overwood.faces.served.health PORT`."""

from __future__ import annotations

import http.client
import ssl
import sys

_WAIT_S = 8.0


def answers(port: int) -> bool:
    """Whether the log-in page is given out; the certificate is for other names than this machine's own, and is not
    looked at."""
    trust = ssl.create_default_context()
    trust.check_hostname, trust.verify_mode = False, ssl.CERT_NONE
    link = http.client.HTTPSConnection("127.0.0.1", port, timeout=_WAIT_S, context=trust)
    try:
        link.request("GET", "/login/", headers={"Host": "localhost"})
        return link.getresponse().status == http.client.OK
    except OSError:
        return False
    finally:
        link.close()


if __name__ == "__main__":
    sys.exit(0 if answers(int(sys.argv[1])) else 1)
