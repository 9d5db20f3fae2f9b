"""How a test speaks to the script of a page: its modules by their addresses, whatever names they were given."""
import re

# Where a result goes: alone, or together with others.
SENDS = re.compile(r"/(record|taps)/$")
# Inside an async function of the page.
OUTBOX = """(await import(document.querySelector('script[src*="js/outbox."]').src))"""
PENDING = f"async () => {OUTBOX}.pending()"
KEPT = f"""async () => document.querySelector('script[src*="js/outbox."]') ? (await {OUTBOX}.pending()).length : -1"""
# One result, tapped past the sheet: its address, its child, its value.
KEEP = f"""async ([path, student, value]) => {{
  const outbox = {OUTBOX}, fields = {{key: outbox.key(), student: String(student), side: 'L', value}};
  return outbox.keep({{path, words: `left ${{value}}`, fields}});
}}"""
