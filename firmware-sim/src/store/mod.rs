//! What a handheld keeps on flash memory: its entries, its sealed blocks, the shift file, PINs' wrong tries, its identity.
