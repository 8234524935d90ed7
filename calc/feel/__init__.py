"""The feel of the brake: what a running brake test should take, and what electric does."""
