"""ABC, in and out, after the standard v2.1 (abcnotation.com, 2011)."""
