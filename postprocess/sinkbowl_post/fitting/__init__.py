"""Discharge coefficient and contact angle from measured trials."""
