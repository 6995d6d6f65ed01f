"""What axe-core finds on a page, one sentence each."""

from __future__ import annotations

from axe_playwright_python.base import AXE_SCRIPT


def violations(page) -> list[str]:
    """Return what breaks a rule of axe-core's."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE_SCRIPT)
    answer = page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{found['id']}, {found['help']}: {node['target']} {node['html'][:120]}"
        for found in answer["violations"]
        for node in found["nodes"][:4]
    ]
