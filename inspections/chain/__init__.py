"""Records that prove themselves: what an entry of a site's chain holds, seals, and verification of the whole store."""
