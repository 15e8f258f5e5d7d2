"""Editions: cards in; printed identities, the ledger, comparisons, the cache and the pages out."""
