"""The words every other room shares: findings, quantities, the linked menu, sourced tables."""
