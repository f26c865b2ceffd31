"""Many simulated futures of one stand under courses of treatment: what comes back, how sure that is, and what it turns
on."""
