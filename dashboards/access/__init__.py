"""Who is let in: the policy, the door before all pages, and the pages of sign-in and accounts."""
