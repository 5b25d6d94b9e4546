//! Why a Bluetooth meter is not listened to, in words that say what to do.

use core::fmt;

/// Why a meter is not listened to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Why {
    /// The service does not answer.
    NoService(String),
    /// The machine has no adapter.
    NoAdapter,
    /// The adapter is switched off.
    Off,
    /// Nothing was seen of the device yet, or any more.
    NotSeen,
    /// It was connected and is not any more.
    Lost,
    /// Several devices have the name.
    Alike(String, Vec<String>),
    /// It was seen and does not let itself be connected.
    Refuses(String),
    /// It asks for a pairing that is not there.
    Pairing,
    /// It lacks what the description reads.
    Lacks(String),
    /// Its description says nothing of Bluetooth.
    NoGatt,
    /// Another way in which asking failed.
    Failed(String),
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoService(said) => write!(
                f,
                "the Bluetooth service does not answer: start it, or install it ({said})"
            ),
            Self::NoAdapter => f.write_str("this machine has no Bluetooth adapter: plug one in"),
            Self::Off => f.write_str("Bluetooth is switched off on this machine: switch it on"),
            Self::NotSeen => f.write_str(
                "not seen: switch the meter and its Bluetooth on and bring it near; one that is connected to a phone or another computer hides, disconnect it there",
            ),
            Self::Lost => f.write_str("the connection was lost: out of range, or switched off"),
            Self::Alike(name, addresses) => write!(
                f,
                "several devices are called {name} ({}): name yours by its address; `stillohm scan --join {name:?}` finds it by its clips",
                addresses.join(", ")
            ),
            Self::Refuses(said) => write!(
                f,
                "it was seen and does not answer: bring it nearer, or disconnect it from the phone or computer that has it ({said})"
            ),
            Self::Pairing => f.write_str(
                "it asks for a pairing: pair it in the system's Bluetooth settings, once, and remove an old pairing there first",
            ),
            Self::Lacks(what) => write!(
                f,
                "it has no {what}: another device, or another description is needed; `stillohm scan` shows what is near by"
            ),
            Self::NoGatt => f.write_str(
                "its description says nothing of Bluetooth: it needs frame.gatt; `stillohm protocols list` shows which have it",
            ),
            Self::Failed(said) => write!(f, "asking it failed: {said}"),
        }
    }
}

/// What the service said when a connection failed.
pub(super) fn connecting(error: &btleplug::Error) -> Why {
    let said = error.to_string();
    let has = |word: &str| said.contains(word);
    match error {
        btleplug::Error::DeviceNotFound => Why::NotSeen,
        btleplug::Error::TimedOut(_) => Why::NotSeen,
        btleplug::Error::PermissionDenied => Why::Pairing,
        _ if has("UnknownObject") || has("DoesNotExist") || has("UnknownMethod") => Why::NotSeen,
        _ if has("ServiceUnknown") || has("NoReply") || has("NameHasNoOwner") => {
            Why::NoService(short(&said))
        }
        _ if has("NotReady") || has("Not Powered") => Why::Off,
        _ if has("Authentication") || has("NotPermitted") || has("NotAuthorized") => Why::Pairing,
        _ => Why::Refuses(short(&said)),
    }
}

/// A device's or the service's words, cut to a line.
pub(super) fn short(said: &str) -> String {
    let line = said.lines().next().unwrap_or_default();
    line.chars().take(100).collect()
}
