//! A device's signature over the heads of its blocks: Ed25519 (RFC 8032), checked strictly. Every head names the hash of
//! the head before it and of its own body, so that one signature stands for all that came before.
//!
//! A signature shows which device wrote a block. It does not show which person held the device.

use ed25519_dalek::{Signature, Signer as _, SigningKey, VerifyingKey};

use crate::ident::DeviceKey;

/// Bytes of a signature.
pub const SIGNATURE: usize = 64;
/// A signature.
pub type SignatureBytes = [u8; SIGNATURE];

/// A device's secret key.
#[derive(Clone)]
pub struct Signer(SigningKey);

impl core::fmt::Debug for Signer {
    /// Only the public half.
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "Signer({})", self.key())
    }
}

impl Signer {
    /// From the 32 secret bytes that RFC 8032, section 5.1.5, calls the private key.
    pub fn from_seed(seed: &[u8; 32]) -> Signer {
        Signer(SigningKey::from_bytes(seed))
    }

    /// The public key.
    pub fn key(&self) -> DeviceKey {
        DeviceKey(self.0.verifying_key().to_bytes())
    }

    /// Signs; the same bytes always get the same signature.
    pub fn sign(&self, bytes: &[u8]) -> SignatureBytes {
        self.0.sign(bytes).to_bytes()
    }
}

/// Whether `signature` over `bytes` was made with the secret half of `key`.
///
/// Keys and points of small order, and signatures that are not in their one canonical form, are refused.
pub fn verify(key: DeviceKey, bytes: &[u8], signature: &SignatureBytes) -> bool {
    let Ok(key) = VerifyingKey::from_bytes(&key.0) else { return false };
    key.verify_strict(bytes, &Signature::from_bytes(signature)).is_ok()
}

/// What a block's signature is worth here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum SealState {
    /// Made with the key that the office states for the device, or with this device's own.
    Good,
    /// Made with the key that the device states of itself, which the office has not confirmed; or no key is known.
    UnknownKey,
    /// Made with the device's key, after the office withdrew it.
    Revoked,
    /// Not made with the device's key.
    Bad,
}
