"""The register: clutches and where they lay."""
