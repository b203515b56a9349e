"""What a browser says of itself, in a few words for a list of sessions. Pure."""

_BROWSERS = (
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser", "Samsung Internet"),
    ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"),
    ("CriOS", "Chrome"),
    ("Chrome", "Chrome"),
    ("Safari", "Safari"),
)
"""In the order in which to look: most of them also claim to be those further down."""
_SYSTEMS = (
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Android", "Android"),
    ("Windows", "Windows"),
    ("Mac OS X", "Mac"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)
_LONGEST = 60


def device_words(user_agent: str) -> str:
    """Name browser and system where both are known; else the beginning of what it says."""
    browser = next((word for sign, word in _BROWSERS if sign in user_agent), "")
    system = next((word for sign, word in _SYSTEMS if sign in user_agent), "")
    if browser and system:
        return f"{browser}, {system}"
    return " ".join(user_agent.split())[:_LONGEST] or "unknown"
