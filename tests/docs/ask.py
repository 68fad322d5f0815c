"""Asks a page as a browser does, cookies kept: ask.py URL. Fails where no page of HTML comes back."""

import http.cookiejar
import sys
import urllib.request

jar = urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar())
with urllib.request.build_opener(jar).open(sys.argv[1], timeout=20) as answer:
    page = answer.read().decode()
sys.exit(0 if "<html" in page else f"no page came back: {page[:200]}")
