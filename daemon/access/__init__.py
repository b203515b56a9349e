"""Who may see and do what on the pages. Rules are pure; `daemon/access_desk.py` is their edge."""
