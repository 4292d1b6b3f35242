//! This room's errors as faults, in the one shape that reaches a person; the class decides the exit code.

use super::{
    AllowedSignersError, ArmourError, KeyError, NamespaceError, PrincipalError, SignatureError, SigningError,
};
use crate::fault::{Class, Fault};

macro_rules! faults {
    ($($error:ty => $class:expr),+ $(,)?) => { $(
        impl From<$error> for Fault {
            fn from(error: $error) -> Self {
                let class: fn(&$error) -> Class = $class;
                Fault::new(class(&error), error.code(), error.to_string()).fix(error.remedy())
            }
        }

        impl From<$error> for Box<Fault> {
            fn from(error: $error) -> Self {
                Box::new(error.into())
            }
        }
    )+ };
}

faults! {
    KeyError => |_| Class::Data,
    NamespaceError => |_| Class::Data,
    PrincipalError => |_| Class::Data,
    ArmourError => |_| Class::Trust,
    SignatureError => |_| Class::Trust,
    AllowedSignersError => |_| Class::Trust,
    SigningError => |error| match error {
        SigningError::KeyNotFound { .. }
        | SigningError::KeyRefused { .. }
        | SigningError::KeyExists { .. }
        | SigningError::CommentRefused => Class::Usage,
        SigningError::Unsound { .. } => Class::Trust,
        _ => Class::Io,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_carries_code_sentence_and_remedy() {
        let fault = Fault::from(KeyError::Rsa);
        assert_eq!((fault.class, fault.code), (Class::Data, "key-rsa"));
        assert!(fault.message.contains("RSA keys are not accepted"));
        assert!(fault.remedy.is_some_and(|remedy| remedy.contains("ed25519")));
        let reason = SignatureError::DoesNotFit { key: "SHA256:x".into() };
        assert_eq!(Fault::from(reason.clone()).class, Class::Trust);
        assert_eq!(Fault::from(SigningError::Unsound { reason }).class, Class::Trust);
        assert_eq!(Fault::from(SigningError::CommentRefused).class, Class::Usage);
        let lost = SigningError::AgentRefused { fingerprint: "SHA256:x".into() };
        assert_eq!(Fault::from(lost).class.exit_code(), 6);
    }
}
