//! Faults: what is wrong with an input, where, and what to do about it.
//!
//! A fault is never a verdict. A stage that reads input gathers every fault it can find in
//! [`Faults`] and only then gives up, so that a person mends a file once.

use std::borrow::Cow;
use std::fmt;

use serde::ser::{SerializeStruct, Serializer};
use serde::{Deserialize, Serialize};

use crate::evidence::Place;

macro_rules! codes {
    ($($name:ident = $text:literal, $what:literal;)+) => {
        /// The closed set of fault codes; the printed form is kebab-case.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Code {
            $(#[doc = $what] $name,)+
        }

        impl Code {
            /// Every code there is.
            pub const ALL: &'static [Code] = &[$(Code::$name,)+];

            /// The code as it is printed.
            #[must_use]
            pub const fn text(self) -> &'static str {
                match self { $(Code::$name => $text,)+ }
            }

            /// What the code means, in one line.
            #[must_use]
            pub const fn meaning(self) -> &'static str {
                match self { $(Code::$name => $what,)+ }
            }
        }
    };
}

codes! {
    FileMissing = "file-missing", "a file or folder that is needed is not there";
    FileUnreadable = "file-unreadable", "a file is there but cannot be read as text";
    FileTooLarge = "file-too-large", "a file larger than any that is read";
    TomlSyntax = "toml-syntax", "a TOML file does not parse";
    YamlSyntax = "yaml-syntax", "a YAML file does not parse";
    RowRagged = "row-ragged", "a row has more or fewer cells than the head";
    ColumnUnknown = "column-unknown", "a column that nothing reads";
    ColumnMissing = "column-missing", "a column that is needed is not in the head";
    ColumnDuplicate = "column-duplicate", "a column head stands twice";
    KeyUnknown = "key-unknown", "a key that nothing reads";
    KeyMissing = "key-missing", "a key or cell that is needed is absent or empty";
    KeyDuplicate = "key-duplicate", "an identifier stands twice";
    ValueType = "value-type", "a value of the wrong type, such as a text where a number is needed";
    NumberUnreadable = "number-unreadable", "a number that cannot be read";
    UnitMissing = "unit-missing", "a physical value without its unit";
    UnitUnknown = "unit-unknown", "a unit that is not known";
    UnitKind = "unit-kind", "a unit of the wrong kind, such as a force where a length is needed";
    ValueImpossible = "value-impossible", "a value that cannot exist, such as a negative thickness";
    WordUnknown = "word-unknown", "a word that is not one of the allowed ones";
    ReferenceUnknown = "reference-unknown", "a name that points to nothing";
    SourceUnknown = "source-unknown", "a source that is not in sources.yml";
    SpreadOrder = "spread-order", "low, value and high are not in order";
    FactTie = "fact-tie", "two rows claim the same fact with the same standing";
    BasisRefused = "basis-refused", "a basis that is not allowed where it stands";
    RowUnread = "row-unread", "a row that nothing could ever read";
    ValueAmbiguous = "value-ambiguous", "a value that can be read in two ways";
    KeyNearly = "key-nearly", "a key that can be taken for another one";
    RowConflict = "row-conflict", "a row that contradicts another one, where neither is newer";
    FileChanged = "file-changed", "a file that somebody changed in the meantime";
    SharesSum = "shares-sum", "shares that do not add up to one";
    FormatUnknown = "format-unknown", "a file format or version that this program does not read";
    ArgumentUnknown = "argument-unknown", "an argument that the computation does not take";
    ArgumentMissing = "argument-missing", "an argument that the computation needs";
    ArgumentRepeated = "argument-repeated", "an argument given twice";
    InputImpossible = "input-impossible", "input for which the computation has no answer";
    NameUnknown = "name-unknown", "an enquiry, tape, criterion or exposure that is not in the data";
    PartMissing = "part-missing", "no report of a part of a batch";
    PartRepeated = "part-repeated", "two reports of one part";
    PartsDiffer = "parts-differ", "parts that are not of one batch";
    TypstMissing = "typst-missing", "the Typst compiler is not there";
    TypstFailed = "typst-failed", "the Typst compiler refused the document";
    TemplateFaulty = "template-faulty", "a template does not render";
    GlyphMissing = "glyph-missing", "a character that no face of the dossier has";
    WriteFailed = "write-failed", "a file or folder cannot be written";
    FolderExists = "folder-exists", "a folder is to be made where something is";
    FaultsMore = "faults-more", "more faults than are told one by one";
    TerminalRefused = "terminal-refused", "binary output would go to a terminal";
    RegisterExists = "register-exists", "a register is to be made where something is";
    RegisterMissing = "register-missing", "no register where one is named";
    LinksRefused = "links-refused", "a file system without hard links, on which no register can be kept";
    SignerUnknown = "signer-unknown", "a signer without a key in force";
    SignerExists = "signer-exists", "a key that somebody signs with already";
    KeyUnreadable = "key-unreadable", "a key that cannot be read, or is of another kind";
    KeyMismatch = "key-mismatch", "a private key that is not the signer's";
    PassphraseMissing = "passphrase-missing", "a key with a passphrase, and nobody to ask for it";
    PassphraseWrong = "passphrase-wrong", "a passphrase that does not open the key";
    RoleRefused = "role-refused", "a role that may not sign with that meaning";
    SeparationRefused = "separation-refused", "one person as author and approver where the register keeps them apart";
    ReasonMissing = "reason-missing", "a signature that needs a written reason";
    SignedAlready = "signed-already", "a signer who has signed with that meaning";
    RecordUnknown = "record-unknown", "a record that is not in the register";
    RecordClosed = "record-closed", "a record that is overtaken or withdrawn";
    NameUnusable = "name-unusable", "a name that no file beside a signature may have";
    RevisionNeeded = "revision-needed", "an enquiry that is signed already, and no revision named";
    RevisionTaken = "revision-taken", "a revision that another writer or signer has taken";
    RegisterAltered = "register-altered", "the deed or the leaflet of a register is not as written";
    EntryMissing = "entry-missing", "an entry of the log is gone";
    EntryAltered = "entry-altered", "an entry of the log is not as written";
    EntryOrder = "entry-order", "an entry of the log in another's place";
    EntryDoubled = "entry-doubled", "an entry of the log twice";
    TailCut = "tail-cut", "the log lacks entries that someone has seen";
    HistoryRewritten = "history-rewritten", "the log is not the one that someone has seen";
    OtherRegister = "other-register", "a statement or head of another register";
    KeysAltered = "keys-altered", "a key list is not the one logged";
    RecordMissing = "record-missing", "the folder of a record is gone";
    RecordUnlogged = "record-unlogged", "a record that no entry names";
    StatementAltered = "statement-altered", "a statement is not as signed";
    StatementSwapped = "statement-swapped", "the statement of another record or revision";
    SignatureAltered = "signature-altered", "a signature is not as made";
    SignatureKey = "signature-key", "a signature by a key that is not the signer's";
    SignatureKeyNotInForce = "signature-key-not-in-force", "a signature by a key that was not in force";
    SignatureNamespace = "signature-namespace", "a signature made for another use";
    PdfAltered = "pdf-altered", "a PDF is not as signed";
    PdfSwapped = "pdf-swapped", "the PDF of another record";
    InputAltered = "input-altered", "a kept input is not as signed";
    ScanAltered = "scan-altered", "a filed scan is not as filed";
    ChecksumsAltered = "checksums-altered", "the checksums of a record are not as written";
    SignedFileMissing = "signed-file-missing", "a file that was signed is gone";
    FileAdded = "file-added", "a file that nothing in the log names";
    NotAFile = "not-a-file", "a link or folder in the place of a file";
    SharedMissing = "shared-missing", "an input that records share is gone";
    SharedAltered = "shared-altered", "an input that records share is not as signed";
}

impl fmt::Display for Code {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.text())
    }
}

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(try_from = "Printed")]
pub struct Fault {
    /// Which kind of fault.
    pub code: Code,
    /// Where, if it has a place.
    pub place: Option<Place>,
    /// What was found.
    pub found: String,
    /// What was needed.
    pub needed: String,
    /// What to do.
    pub remedy: String,
}

impl Fault {
    /// A fault without a place yet; [`Fault::at`] gives it one.
    pub fn new(code: Code, found: impl Into<String>, needed: impl Into<String>, remedy: impl Into<String>) -> Self {
        Fault { code, place: None, found: short(found.into()), needed: needed.into(), remedy: remedy.into() }
    }

    /// The same fault, at a place.
    #[must_use]
    pub fn at(mut self, place: Place) -> Self {
        self.place = Some(place);
        self
    }

    /// A word that is not among `allowed`, with the nearest one offered.
    #[must_use]
    pub fn unknown_word<'a>(code: Code, found: &str, needed: &str, allowed: impl IntoIterator<Item = &'a str>) -> Self {
        let allowed: Vec<&str> = allowed.into_iter().collect();
        let found = short(found.to_owned());
        let near = nearest(&found, allowed.iter().copied());
        let remedy = match (near, allowed.len()) {
            (Some(near), _) => format!("did you mean `{near}`?"),
            (None, 0) => "take it out".to_owned(),
            (None, n) if n <= 14 => format!("write one of: {}", allowed.join(", ")),
            (None, _) => "check the spelling against the files of the data folder".to_owned(),
        };
        Fault::new(code, format!("`{found}`"), needed, remedy)
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(place) = &self.place {
            writeln!(f, "{place}")?;
        }
        writeln!(f, "  found   {}", visible(&self.found))?;
        writeln!(f, "  needed  {}", visible(&self.needed))?;
        writeln!(f, "  do      {}", visible(&self.remedy))?;
        write!(f, "  ({})", self.code)
    }
}

/// A text in which no control character acts on a terminal.
#[must_use]
pub fn visible(text: &str) -> Cow<'_, str> {
    let acts = |c: char| c.is_control() && c != '\n';
    if !text.contains(acts) {
        return Cow::Borrowed(text);
    }
    text.chars().flat_map(|c| if acts(c) { c.escape_default().collect() } else { vec![c] }).collect()
}

impl std::error::Error for Fault {}

impl Serialize for Fault {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut s = serializer.serialize_struct("Fault", 5)?;
        s.serialize_field("code", self.code.text())?;
        s.serialize_field("place", &self.place)?;
        s.serialize_field("found", &self.found)?;
        s.serialize_field("needed", &self.needed)?;
        s.serialize_field("do", &self.remedy)?;
        s.end()
    }
}

/// The printed form of a [`Fault`].
#[derive(Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
struct Printed {
    code: String,
    place: Option<Place>,
    found: String,
    needed: String,
    #[serde(rename = "do")]
    remedy: String,
}

impl TryFrom<Printed> for Fault {
    type Error = String;

    fn try_from(printed: Printed) -> Result<Fault, String> {
        let Printed { code, place, found, needed, remedy } = printed;
        let known = Code::ALL.iter().find(|known| known.text() == code);
        Ok(Fault { code: *known.ok_or_else(|| format!("no kind of fault `{code}`"))?, place, found, needed, remedy })
    }
}

impl schemars::JsonSchema for Fault {
    fn schema_name() -> Cow<'static, str> {
        "Fault".into()
    }

    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        Printed::json_schema(generator)
    }
}

/// The most characters of an input that a message repeats.
const SHOWN: usize = 400;

/// A text cut to what a message can show.
#[must_use]
pub fn short(text: String) -> String {
    match text.char_indices().nth(SHOWN) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text,
    }
}

/// The most faults that are kept one by one; a person who has mended so many checks again.
const KEPT: usize = 2000;

/// Every fault found so far; beyond some thousands only how many.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Faults {
    list: Vec<Fault>,
    more: usize,
}

impl Faults {
    /// Adds one.
    pub fn add(&mut self, fault: Fault) {
        if self.list.len() < KEPT {
            self.list.push(fault);
        } else {
            self.more += 1;
        }
    }

    /// Adds one unless the same is there.
    pub fn add_once(&mut self, fault: Fault) {
        if !self.list.contains(&fault) {
            self.add(fault);
        }
    }

    /// Adds all of another collection.
    pub fn extend(&mut self, other: Faults) {
        other.list.into_iter().for_each(|fault| self.add(fault));
        self.more += other.more;
    }

    /// Keeps a good value, or notes the fault at a place.
    pub fn keep<T>(&mut self, result: Result<T, Fault>, place: &Place) -> Option<T> {
        match result {
            Ok(value) => Some(value),
            Err(fault) => {
                let placed = if fault.place.is_some() { fault } else { fault.at(place.clone()) };
                self.add(placed);
                None
            }
        }
    }

    /// The same faults, the folder named before each file: for work on more than one folder.
    #[must_use]
    pub fn below(mut self, folder: &str) -> Faults {
        for place in self.list.iter_mut().filter_map(|fault| fault.place.as_mut()) {
            place.file = format!("{}/{}", folder.trim_end_matches('/'), place.file).into();
        }
        self
    }

    /// True if nothing is wrong.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// True if one of them is of this kind.
    #[must_use]
    pub fn has(&self, code: Code) -> bool {
        self.list.iter().any(|fault| fault.code == code)
    }

    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.list.len() + self.more
    }

    /// The faults, in the order of files, lines and columns; how many more there are comes last.
    #[must_use]
    pub fn sorted(mut self) -> Vec<Fault> {
        self.list.sort_by(|a, b| (&a.place, a.code).cmp(&(&b.place, b.code)));
        if self.more > 0 {
            let found = format!("{} more faults than the {KEPT} that are told", self.more);
            let remedy = "mend these, or see whether it is the right file, and check again";
            self.list.push(Fault::new(Code::FaultsMore, found, "fewer", remedy));
        }
        self.list
    }

    /// `value` if nothing is wrong, else the faults.
    ///
    /// # Errors
    /// All faults gathered so far.
    pub fn or<T>(self, value: T) -> Result<T, Faults> {
        if self.is_empty() { Ok(value) } else { Err(self) }
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        Faults { list: vec![fault], more: 0 }
    }
}

/// The known name nearest to what was written, if any is near enough to be meant.
#[must_use]
pub fn nearest<'a>(written: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    // Nobody mistypes a name of such length.
    if written.len() > 100 {
        return None;
    }
    let lower = written.to_lowercase();
    known
        .into_iter()
        .map(|name| (strsim::jaro_winkler(&lower, &name.to_lowercase()), name))
        .filter(|(score, _)| *score >= 0.8)
        .max_by(|a, b| a.0.total_cmp(&b.0).then_with(|| b.1.cmp(a.1)))
        .map(|(_, name)| name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_reads_as_the_manual_says() {
        let fault = Fault::new(
            Code::UnitKind,
            "`0.18 N/m`, a force per length",
            "a length",
            "write a length, such as `0.18 mm`",
        )
        .at(Place::cell("tapes.csv", 14, "total_thickness"));
        insta::assert_snapshot!(fault, @r"
        tapes.csv line 14, column total_thickness
          found   `0.18 N/m`, a force per length
          needed  a length
          do      write a length, such as `0.18 mm`
          (unit-kind)
        ");
    }

    #[test]
    fn codes_are_unique_and_kebab_case() {
        let mut texts: Vec<_> = Code::ALL.iter().map(|c| c.text()).collect();
        texts.sort_unstable();
        let count = texts.len();
        texts.dedup();
        assert_eq!(count, texts.len());
        assert!(texts.iter().all(|t| t.chars().all(|c| c.is_ascii_lowercase() || c == '-')));
    }
}
