fn main() {
    let root = std::env::args().nth(1).unwrap_or_default();
    let folder = match lapwise::load::Folder::read(std::path::Path::new(&root)) { Ok(f) => f, Err(f) => { for f in f.sorted() { println!("{f}\n"); } return; } };
    match lapwise::catalogue::Catalogue::build(&folder) {
        Ok(c) => { println!("{} tapes {} facts", c.tapes.len(), c.facts.len());
          for e in folder.enquiries() { match lapwise::enquiry::Enquiry::read(e, folder.text(e), &c) { Ok(e) => println!("{} ok", e.number), Err(f) => for f in f.sorted() { println!("{f}\n"); } } } }
        Err(f) => for f in f.sorted() { println!("{f}\n"); },
    }
}
