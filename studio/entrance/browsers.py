"""What a browser calls itself, in the words of the person who looks for theirs in a list; knows no Django."""
# The first that is found: browsers name their ancestors too.
BROWSERS = [("Edg", "Edge"), ("Firefox", "Firefox"), ("FxiOS", "Firefox"), ("CriOS", "Chrome"),
            ("Chrome", "Chrome"), ("Safari", "Safari")]
SYSTEMS = [("iPad", "iPad"), ("iPhone", "iPhone"), ("Android", "Android"), ("Windows", "Windows"), ("Mac OS", "Mac"),
           ("CrOS", "Chromebook"), ("Linux", "Linux")]


def browser_words(user_agent: str) -> str:
    """Name and system, as far as they are known; iPads may call themselves Macs. It proves nothing: anybody may lie.

    >>> browser_words("Mozilla/5.0 (Linux; Android 14; SM-X200) AppleWebKit/537.36 (KHTML, like Gecko) "
    ...               "Chrome/126.0.0.0 Safari/537.36")
    'Chrome, Android'
    >>> browser_words("curl/8.5.0")
    ''
    """
    found = [next((words for sign, words in table if sign in user_agent), "") for table in (BROWSERS, SYSTEMS)]
    return ", ".join(words for words in found if words)
