"""What is printed where the first code is made. Pure."""


def welcome_text(code: str, page_url: str) -> str:
    """Say what to do with the first code. `page_url`: the start of the pages, with a slash at its end."""
    return (
        f"No account yet. Open {page_url}welcome and enter this code: {code}\n"
        "It is good for 1 hour, once. A new one: clutchwarden access first"
    )
