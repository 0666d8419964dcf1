//! Keys and signatures: OpenSSH Ed25519 keys, SSHSIG signatures, the list that `ssh-keygen` reads.

use std::fmt::Write as _;

use ssh_key::{Algorithm, HashAlg, LineEnding, PrivateKey, PublicKey, SshSig};

use super::log::KeyChange;
use crate::fault::{Code, Fault};
use crate::record::{NAMESPACE, hexadecimal};

/// A public key as it is kept: algorithm and key, without comment.
///
/// # Errors
/// A text that is no public key, or one of another kind than Ed25519.
pub fn public(text: &str) -> Result<PublicKey, Fault> {
    let refused = |found: String| {
        Fault::new(
            Code::KeyUnreadable,
            found,
            "the public half of an Ed25519 key, one line that starts with `ssh-ed25519`",
            "make a pair with `ssh-keygen -t ed25519` and give the file that ends in `.pub`",
        )
    };
    let key = PublicKey::from_openssh(text.trim()).map_err(|error| refused(error.to_string()))?;
    if key.algorithm() != Algorithm::Ed25519 {
        return Err(refused(format!("a key of the kind {}", key.algorithm())));
    }
    Ok(PublicKey::from(key.key_data().clone()))
}

/// A private key, opened with its passphrase if it has one.
///
/// # Errors
/// A text that is no private key, a missing or wrong passphrase.
pub fn private(text: &str, passphrase: impl FnOnce() -> Result<String, Fault>) -> Result<PrivateKey, Fault> {
    let refused = |found: String| {
        Fault::new(
            Code::KeyUnreadable,
            found,
            "a private Ed25519 key as OpenSSH writes it",
            "give the file that `ssh-keygen -t ed25519` made, without `.pub`",
        )
    };
    let key = PrivateKey::from_openssh(text).map_err(|error| refused(error.to_string()))?;
    if key.algorithm() != Algorithm::Ed25519 {
        return Err(refused(format!("a key of the kind {}", key.algorithm())));
    }
    if !key.is_encrypted() {
        return Ok(key);
    }
    let passphrase = passphrase()?;
    key.decrypt(passphrase.as_bytes()).map_err(|_| {
        Fault::new(
            Code::PassphraseWrong,
            "a passphrase that does not open the key",
            "the key's passphrase",
            "try again",
        )
    })
}

/// The fingerprint as `ssh-keygen -l` prints it.
#[must_use]
pub fn fingerprint(key: &PublicKey) -> String {
    key.fingerprint(HashAlg::Sha256).to_string()
}

/// The short name of a key, which names its signature's file.
#[must_use]
pub(super) fn short(key: &PublicKey) -> String {
    hexadecimal(&key.fingerprint(HashAlg::Sha256).as_bytes()[..8])
}

/// Signs a text; the bytes are those of `ssh-keygen -Y sign`.
///
/// # Errors
/// A key that cannot sign.
pub(super) fn sign(key: &PrivateKey, text: &str) -> Result<String, Fault> {
    let defect = |error: ssh_key::Error| {
        Fault::new(Code::KeyUnreadable, error.to_string(), "a key that signs", "check the key with `ssh-keygen -l`")
    };
    let signature = key.sign(NAMESPACE, HashAlg::Sha512, text.as_bytes()).map_err(defect)?;
    signature.to_pem(LineEnding::LF).map_err(defect)
}

/// Why a signature does not count.
pub(super) struct Refused {
    pub(super) code: Code,
    pub(super) found: String,
    pub(super) needed: String,
}

/// Judges a signature by the keys in force.
pub(super) fn judge(
    signature: &[u8],
    text: &[u8],
    signer: &str,
    in_force: &[&KeyChange],
    ever: &[&KeyChange],
) -> Result<(), Refused> {
    let refuse = |code, found: String, needed: &str| Refused { code, found, needed: needed.to_owned() };
    let signed = SshSig::from_pem(signature)
        .map_err(|error| refuse(Code::SignatureAltered, format!("no signature: {error}"), "a signature"))?;
    if signed.namespace() != NAMESPACE {
        let found = format!("a signature made for `{}`", signed.namespace());
        return Err(refuse(Code::SignatureNamespace, found, &format!("one made for `{NAMESPACE}`")));
    }
    let public = PublicKey::from(signed.public_key().clone());
    let print = fingerprint(&public);
    let held = |keys: &[&KeyChange]| keys.iter().any(|key| key.signer == signer && key.fingerprint == print);
    if !held(in_force) {
        let (code, what) = if held(ever) {
            (Code::SignatureKeyNotInForce, "which was not in force then")
        } else {
            (Code::SignatureKey, "which is not the signer's")
        };
        return Err(refuse(
            code,
            format!("a signature by the key {print}, {what}"),
            &format!("one by a key of `{signer}`"),
        ));
    }
    public.verify(NAMESPACE, text, &signed).map_err(|_| {
        refuse(Code::SignatureAltered, "a signature that does not fit the statement".to_owned(), "one that fits it")
    })
}

/// The key list as `ssh-keygen -Y verify -f` reads it: the keys in force, one a line.
pub(super) fn list(keys: &[&KeyChange]) -> String {
    let mut text = format!("# Keys in force. ssh-keygen -Y verify -f THIS -I SIGNER -n {NAMESPACE}\n");
    for key in keys {
        // Writing to a String does not fail.
        let _ = writeln!(text, "{} namespaces=\"{NAMESPACE}\" {}", key.signer, key.public_key);
    }
    text
}
